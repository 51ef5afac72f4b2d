// Needle in: kind and gauge as planned unless another is picked.

import { alternatives, lines } from "../parts/choices.js";
import { placeText } from "../parts/arms.js";
import { GAUGES, NEEDLES } from "../words.js";
import { notDrawn, wrong } from "./common.js";

export function needle(v, desk) {
  const kind = v.draft.needleKind ?? v.visit.needle ?? "straight";
  const gauge = v.draft.gauge ?? (kind === "winged" ? "23" : "21");
  const on = Object.keys(v.done.tourniquet)[0];
  const { side, place } = v.done.prep.site;
  const stops = desk.ahead([{ kind: "needle_in", data: { kind, gauge } }]);
  return {
    name: "needle",
    sentence: v.over.tourniquet ? "Tourniquet off, and wait" : `Needle in: ${side} arm, ${placeText(place)}`,
    aside: "Bevel up, at most 30 degrees. No probing.",
    body: [
      lines(
        [...stops.stops, ...stops.asks].map((finding) => finding.says),
        "act",
      ),
      alternatives(
        "Needle",
        NEEDLES.map(([code, says]) => [code, says]),
        kind,
        (needleKind) => desk.setDraft({ needleKind, gauge: null }),
      ),
      alternatives(
        "Gauge",
        GAUGES.map((each) => [each, each]),
        gauge,
        (each) => desk.setDraft({ gauge: each }),
      ),
    ],
    main: {
      says: "Needle in",
      look: "panel",
      hint: `${NEEDLES.find(([code]) => code === kind)[1].toLowerCase()}, ${gauge} gauge`,
      act: () => desk.act([{ kind: "needle_in", data: { kind, gauge } }], { noFlow: false }),
    },
    row: [
      on
        ? {
            says: "Tourniquet off",
            look: v.over.ready ? "act" : "plain",
            act: () => desk.act([{ kind: "tourniquet_off", data: { side: on } }]),
          }
        : { says: "Touched: clean again", act: () => desk.act([{ kind: "site_touched" }]) },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}
