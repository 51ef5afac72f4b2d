// All tubes into the bag of this patient, closed, one tap.

import { capColour } from "../parts/tube.js";
import { rack } from "../parts/rack.js";
import { lines } from "../parts/choices.js";
import { clockTime } from "../parts/when.js";
import { tubePage } from "./hold.js";
import { countOf, Numbered, wrong } from "./common.js";

export function bag(v, desk) {
  const tubes = v.done.kept.filter((tube) => !tube.bagged);
  const soon = tubes
    .filter((tube) => tube.in_lab_by)
    .map((tube) => `${Numbered(tube)}: in the lab by ${clockTime(tube.in_lab_by, v.zone)}`);
  return {
    name: "bag",
    sentence: `${countOf(tubes)} into this patient’s bag`,
    body: [
      lines(
        [
          ...soon,
          ...tubes.flatMap((tube) =>
            (tube.handling ?? []).map((word) => `${Numbered(tube)}: ${HANDLING[word] ?? word}`),
          ),
        ],
        "act",
      ),
      rack(v.done.tubes, v.book.containers, {
        ...tubePage(desk),
        lines: (tube, container) => [
          capColour(container),
          tube.discarded ? "discarded" : tube.filled ? "" : "empty",
        ],
      }),
    ],
    main: {
      says: "Bagged, bag closed",
      act: () =>
        desk.act(tubes.map((tube) => ({ kind: "tube_bagged", data: { tube: tube.id, bag: v.visit.id } }))),
    },
    row: [wrong(desk)],
  };
}

const HANDLING = {
  ice: "on ice",
  "37C": "keep warm",
  "protect-from-light": "out of the light",
  "full-draw": "must be full",
  "no-gel": "no gel",
  "to-lab-at-once": "to the lab at once",
};
