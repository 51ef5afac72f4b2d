// All tubes into the bag of this patient, closed, one tap.

import { capColour } from "../parts/tube.js";
import { rack } from "../parts/rack.js";
import { lines } from "../parts/choices.js";
import { clocksOf } from "../good_until.js";
import { tubePage } from "./hold.js";
import { countOf, Numbered, wrong } from "./common.js";
import { clockWords } from "./lab_words.js";

export function bag(v, desk) {
  const tubes = v.done.kept.filter((tube) => !tube.bagged);
  return {
    name: "bag",
    sentence: `${countOf(tubes)} into this patient’s bag`,
    body: [
      lines(
        tubes.map((tube) => careLine(v, tube)),
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

// What this tube needs from now on, in one line; null where it needs nothing.
function careLine(v, tube) {
  const handling = (tube.handling ?? []).map((word) => HANDLING[word] ?? word);
  const needs = [...handling, ...clockWords(clocksOf(tube, v.now), v.zone)];
  return needs.length ? `${Numbered(tube)}: ${needs.join(", ")}` : null;
}

const HANDLING = {
  ice: "on ice",
  "37C": "keep warm",
  "protect-from-light": "out of the light",
  "full-draw": "must be full",
  "no-gel": "no gel",
  "to-lab-at-once": "to the lab at once",
};
