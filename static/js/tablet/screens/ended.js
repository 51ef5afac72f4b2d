// The visit is over: back to the corridor, with what still has to be written or told.

import { rackOf } from "./tube_states.js";
import { tiles } from "../parts/choices.js";
import { endedWords, INCIDENT, TELL_SOMEONE } from "../words.js";
import { bedOf } from "./common.js";

/** Whether a visit ended in a way somebody has to hear of, and nobody has: `data` of its end. */
export const isUntold = (data) => TELL_SOMEONE.has(data.outcome) && !data.told?.name;

export function ended(v, desk) {
  const data = v.done.ended.data;
  const untold = isUntold(data);
  const notes = v.done.unwritten.map((incident) => ({
    says: `Write the note: ${INCIDENT[incident.kind]}`,
    look: "stop",
    act: () => desk.openPage("note", { opened: incident.event.id }),
  }));
  const tell = untold
    ? [
        {
          says: "Tell somebody, and put in the name",
          look: "stop",
          act: () => desk.openPage("not_drawn", { outcome: data.outcome, mend: v.done.ended.id }),
        },
      ]
    : [];
  const again = sentAgain(v, desk);
  const words = endedWords(data.outcome);
  return {
    name: "ended",
    sentence: `${bedOf(v.visit)}: ${words}`.replace(/^r/, "R"),
    aside:
      notes.length || untold ? "Not everything is written down yet." : "Everything is saved on this tablet.",
    body: [
      tiles([...notes, ...tell, ...again], { wide: true, label: "Unfinished" }),
      v.done.kept.length ? rackOf(v) : null,
    ],
    main: { says: "On with the round", act: () => desk.leaveVisit() },
    row: [{ says: "What was recorded", act: () => desk.openPage("story") }],
  };
}

// What the ward sent out again is another visit of the same patient.
function sentAgain(v, desk) {
  return desk
    .stops()
    .filter(({ visit, done }) => visit.id !== v.visit.id && visit.patient.id === v.patient.id && !done.ended && !visit.ended)
    .map(({ visit }) => ({
      says: `This patient is on the round again: ${bedOf(visit)}`,
      hint: "go there",
      look: "act",
      act: () => desk.goTo(visit.id),
    }));
}
