// Notes not complete yet, of every bed: one touch leads to each.

import { tiles } from "../parts/choices.js";
import { clockTime } from "../parts/when.js";
import { INCIDENT } from "../words.js";
import { bedOf, count } from "./common.js";

export function notes(desk) {
  const open = desk.openNotes();
  return {
    name: "notes",
    sentence: open.length ? `${count(open.length, "note")} open` : "Every note is complete",
    body: [
      tiles(
        open.map((note) => ({
          says: `${INCIDENT[note.incident.kind] ?? note.incident.kind}, ${bedOf(note.visit)}`,
          hint: `${clockTime(note.incident.event.at, desk.packet.zone)}, ${note.incident.note ? "begun, not complete" : "not written yet"}`,
          look: "stop",
          act: () => desk.openNote(note),
        })),
        { wide: true, label: "Open notes" },
      ),
    ],
    main: { says: "Back", look: "quiet", act: () => desk.closePage() },
    row: [],
  };
}
