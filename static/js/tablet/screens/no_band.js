// No band on the patient: no draw. Full screen, with the way out and no way past.

import { el } from "../parts/dom.js";
import { toldData, toldFields } from "../parts/told.js";
import { wordingOf } from "./finding_words.js";
import { peopleToTell, wrong } from "./common.js";

export function noBand(v, desk) {
  const words = wordingOf(v.book, "band-missing", "stop");
  const told = v.draft.bandTold ?? {};
  return {
    name: "no_band",
    tone: "stop",
    sentence: words.says,
    body: [
      el("p", { class: "do-next" }, words.do_next),
      toldFields(told, (changes, redraw) => change(v, desk, changes, redraw), {
        people: peopleToTell(desk).filter(({ role }) => role?.includes("nurse")),
        label: "Which nurse was told (name)",
      }),
      el("p", { class: "finding-source" }, words.source),
    ],
    main: {
      says: "The nurse has put a band on: read it",
      act: () => goOn(v, desk),
    },
    row: [
      {
        says: "End the visit: not settled",
        act: () => desk.openPage("not_drawn", { outcome: "no_identity", told: toldOf(v, desk) }),
      },
      wrong(desk),
    ],
    onScan: null,
  };
}

const toldOf = (v, desk) => desk.draftOf(v.visit.id).bandTold ?? {};

function change(v, desk, changes, redraw) {
  desk.setDraft({ bandTold: { ...toldOf(v, desk), ...changes } }, redraw);
}

// The missing band was written down when it was found; whom it was told to is added to it.
async function goOn(v, desk) {
  const missing = v.done.bandMissing;
  const told = toldData(toldOf(v, desk), desk.moment().at);
  if (told) {
    const data = { event: missing.id, data: { ...missing.data, told }, reason: "which nurse was told" };
    if (!(await desk.save([{ kind: "corrected", data }], { undo: false }))) return;
  }
  desk.setDraft({ bandTyped: false, bandMissingSeen: missing.id });
}
