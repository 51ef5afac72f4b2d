// While the skin dries the needle is prepared; then the second tourniquet goes on.

import { capColour } from "../parts/tube.js";
import { lines } from "../parts/choices.js";
import { rack } from "../parts/rack.js";
import { secondsSince } from "../clocks.js";
import { notDrawn, wrong } from "./common.js";

export function drying(v, desk) {
  const { side } = v.done.prep.site;
  const cleaned = v.done.prep.cleaned;
  const isDry = secondsSince(cleaned, v.now) >= v.limits.dry;
  const acts = [
    ...(v.done.prep.dry ? [] : [{ kind: "skin_dry" }]),
    { kind: "tourniquet_on", data: { side } },
  ];
  return {
    name: "drying",
    sentence: isDry ? "Dry: tourniquet on" : "Let it dry, prepare the needle",
    body: [
      lines([
        "Needle on the holder, guard tried. Sharps box, gauze and tape within reach.",
        "Tubes laid out in this order:",
      ]),
      rack(v.done.tubes, v.book.containers, { lines: (tube, container) => [capColour(container)] }),
    ],
    main: {
      says: "Tourniquet on",
      hint: isDry ? `dry, ${side} arm` : "the skin is still drying",
      look: isDry ? "act" : "quiet",
      act: () => desk.act(isDry ? acts : acts.slice(-1)),
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
