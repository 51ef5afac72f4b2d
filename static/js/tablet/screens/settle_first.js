// Another bed is open and must not wait: no other one is begun before it is settled.

import { lines } from "../parts/choices.js";
import { bedOf } from "./common.js";

/** @param first {visit, owed} of desk.firstToSettle() */
export function settleFirst(desk, first) {
  return {
    name: "settle_first",
    tone: "stop",
    sentence: `First ${bedOf(first.visit)}`,
    body: [
      lines(
        first.owed.map(({ says }) => says.replace(/^./, (letter) => letter.toUpperCase())),
        "stop",
      ),
    ],
    main: { says: `Go to ${bedOf(first.visit)}`, act: () => desk.goTo(first.visit.id) },
    row: [{ says: "Back to the round", act: () => desk.leaveAllTheSame() }],
  };
}
