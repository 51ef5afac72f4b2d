// While the skin dries the needle is prepared; then the second tourniquet goes on.

import { lines } from "../parts/choices.js";
import { secondsSince } from "../clocks.js";
import { notDrawn, wrong } from "./common.js";

export function drying(v, desk) {
  const { side } = v.done.prep.site;
  const cleaned = v.done.prep.cleaned;
  const isDry = secondsSince(cleaned, v.now) >= v.limits.dry;
  const acts = [...(v.done.prep.dry ? [] : [{ kind: "skin_dry" }]), { kind: "tourniquet_on", data: { side } }];
  return {
    name: "drying",
    sentence: isDry ? "Dry: tourniquet on" : "Let it dry, prepare the needle",
    body: [lines(["Needle on the holder, guard tried, first tube beside it.", "Sharps box within reach.", "Gauze and tape ready."])],
    main: { says: "Tourniquet on", hint: isDry ? `dry, ${side} arm` : "the skin is still drying", look: isDry ? "act" : "quiet", act: () => desk.act(isDry ? acts : acts.slice(-1)) },
    row: [{ says: "Touched: clean again", act: () => desk.act([{ kind: "site_touched" }]) }, isDry ? { says: "Without a tourniquet", act: () => desk.act([{ kind: "skin_dry" }], { bare: true }) } : notDrawn(desk), wrong(desk)],
  };
}
