// While the skin dries the needle is prepared; then the second tourniquet goes on.

import { isBottle } from "../carrying.js";
import { capColour } from "../parts/tube.js";
import { lines } from "../parts/choices.js";
import { rack } from "../parts/rack.js";
import { secondsSince } from "../clocks.js";
import { BOTTLE_TOPS } from "./clean.js";
import { needleFor } from "./needle.js";
import { exactVolume } from "./door.js";
import { notDrawn, underOrder, wrong } from "./common.js";

// CP-06, CP-07: common practice, no source
const PREPARED = {
  straight: "Needle on the holder, guard tried",
  winged: "Winged set on the holder, guard tried",
  syringe: "Needle on the syringe, plunger moved once",
};

export function drying(v, desk) {
  const { side } = v.done.prep.site;
  const cleaned = v.done.prep.cleaned;
  const isDry = secondsSince(cleaned, v.now) >= v.limits.dry;
  const { kind, gauge } = needleFor(v);
  const acts = [
    ...(v.done.prep.dry ? [] : [{ kind: "skin_dry" }]),
    ...underOrder(v, desk, [{ kind: "tourniquet_on", data: { side } }]),
  ];
  return {
    name: "drying",
    sentence: isDry ? "Dry: tourniquet on" : "Let it dry, prepare the needle",
    body: [
      lines([
        `${PREPARED[kind] ?? PREPARED.straight}, ${gauge} gauge. Sharps box, gauze and tape within reach.`,
        v.done.open.some(isBottle) ? BOTTLE_TOPS : null,
        "Tubes laid out in this order:",
      ]),
      rack(v.done.tubes, v.book.containers, {
        lines: (tube, container) => [capColour(container), exactVolume(v, tube)],
      }),
    ],
    main: {
      says: "Tourniquet on",
      hint: isDry ? `dry, ${side} arm` : "the skin is still drying",
      look: isDry ? "act" : "quiet",
      act: () => desk.act(isDry ? acts : acts.filter((act) => act.kind !== "skin_dry")),
    },
    row: [
      { says: "Touched: clean again", act: () => desk.act([{ kind: "site_touched" }]) },
      isDry
        ? { says: "Without a tourniquet", act: () => desk.act([{ kind: "skin_dry" }], { bare: true }) }
        : notDrawn(desk),
      wrong(desk),
    ],
  };
}
