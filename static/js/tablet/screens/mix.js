// While pressure is held: full mixing, each tube as often as it needs, one tap for all.

import { isBottle } from "../carrying.js";
import { capColour } from "../parts/tube.js";
import { rack } from "../parts/rack.js";
import { siteAct, tubePage } from "./hold.js";
import { wrong } from "./common.js";

export function mix(v, desk) {
  const short = v.done.kept.filter((tube) => tube.mixed < v.inversions(tube));
  const acts = short.map((tube) => ({
    kind: "tube_mixed",
    data: { tube: tube.id, inversions: v.inversions(tube) - tube.mixed },
  }));
  return {
    name: "mix",
    sentence: `Mix ${short.some(isBottle) ? "each one" : "every tube"}, gently, all the way over`,
    aside: "Over and back is one. Keep the pressure on; the patient can press.",
    body: [
      rack(v.done.tubes, v.book.containers, {
        ...tubePage(desk),
        lines: (tube, container) => [
          capColour(container),
          tube.filled && !tube.discarded ? turns(v, tube) : "empty",
        ],
      }),
    ],
    main: { says: "All are mixed", hint: "as often as it says under each", act: () => desk.act(acts) },
    row: [siteAct(v, desk), wrong(desk)].filter(Boolean),
  };
}

function turns(v, tube) {
  const left = v.inversions(tube) - tube.mixed;
  return left > 0 ? `${left} × more` : "enough";
}
