// Handing the tablet back: no patient stays on it; what is unsent stays, sealed.

import { lines } from "../parts/choices.js";
import { bedOf, countOf } from "./common.js";
import { isOpen } from "./round.js";

export function handBack(desk) {
  const { unsent } = desk.engine.status;
  const open = desk.packet ? desk.unsettled() : [];
  const carried = desk.carried().map(({ tube }) => tube);
  const busy = open.length > 0 || desk.isUnderWay();
  return {
    name: "hand_back",
    sentence: busy ? "Finish the visit first" : "Hand this tablet back?",
    aside: busy ? null : `It will hold 0 patients and ${unsent} unsent.`,
    body: [
      lines([leftBehind(desk), carried.length ? `${countOf(carried)} not handed over at the lab yet: do that first, on “To the lab”.` : null], "stop"),
      lines(
        [
          "Your round, your PIN and half-filled notes are wiped from this tablet.",
          "What is unsent stays, sealed: nobody can read it here, and it is sent by itself.",
        ],
        "plain",
      ),
    ],
    main: { says: "Hand it back", look: "stop", off: busy, act: () => desk.engine.handBack() },
    row: [{ says: "Back", act: () => desk.closePage() }],
  };
}

// The house closes a round nothing hangs on any more: whoever is still to be drawn is named before that, not after.
function leftBehind(desk) {
  const open = (desk.packet ? desk.stops() : []).filter((stop) => isOpen(stop) && !desk.elsewhere(stop.visit));
  if (!open.length) return null;
  const beds = open.map(({ visit }) => bedOf(visit)).join("; ");
  return `Not drawn yet: ${beds}. Nobody has them once this tablet is back, until the next round: tell the charge nurse.`;
}
