// Needle in: kind and gauge as planned, or as the site asks for, unless another is picked.

import { isBottle } from "../carrying.js";
import { childWords, isUnder, volumeWords } from "../child.js";
import { alternatives, lines } from "../parts/choices.js";
import { placeText } from "../parts/arms.js";
import { GAUGES, NEEDLES } from "../words.js";
import { notDrawn, underOrder, wrong } from "./common.js";

export function needle(v, desk) {
  const { kind, gauge } = needleFor(v);
  const on = Object.keys(v.done.tourniquet)[0];
  const { side, place } = v.done.prep.site;
  const data = { kind, gauge };
  const discard = discardFor(v, kind);
  const acts = underOrder(v, desk, [...(discard ? [added(v, desk)] : []), { kind: "needle_in", data }]);
  const found = desk.ahead(acts);
  return {
    name: "needle",
    sentence: v.over.tourniquet ? "Tourniquet off, and wait" : `Needle in: ${side} arm, ${placeText(place)}`,
    aside: `Bevel up, at most ${angle(v)} degrees. No probing.`,
    body: [
      lines([childWords(v), volumeWords(v)], "act"),
      lines(
        [...found.stops, ...found.asks].map((finding) => finding.says),
        "act",
      ),
      lines([discard ? DISCARD : null, bottlesFirst(v, kind)], "note"),
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
      act: () => desk.act(acts, { noFlow: false }),
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

/** The needle offered: as picked; winged for a child and on the back of the hand; else as planned. The gauge follows. */
// ST-10: hand, 22/23 gauge winged (secondary source). ST-14: 21 routine, 23 winged, child, hand (sizes from memory)
export function needleFor(v) {
  const isSmall = v.done.prep.site?.place === "hand" || isUnder(v, "child_below_years");
  const kind = v.draft.needleKind ?? (isSmall ? "winged" : (v.visit.needle ?? "straight"));
  return { kind, gauge: v.draft.gauge ?? (kind === "winged" ? "23" : "21") };
}

const angle = (v) => v.book.limits.needle_angle_max_degrees?.value ?? "a few";

const DISCARD = "Citrate comes first and the tubing holds air: a discard goes before it, and stands in the rack.";

/** Whether a discard has to be added: OD-15, a winged set with citrate first and nothing before it. */
function discardFor(v, kind) {
  const [first] = v.done.open;
  return kind === "winged" && first?.kind === "citrate";
}

function added(v, desk) {
  const nominal = v.book.limits.discard_ml?.value ?? v.book.containers.discard.nominal_ml;
  const data = { tube: desk.newId(), kind: "discard", nominal_ml: nominal, why: "winged set, citrate first" };
  return { kind: "tube_added", data };
}

// OD-17 (secondary source)
function bottlesFirst(v, kind) {
  if (v.done.open.filter(isBottle).length < 2) return null;
  return kind === "syringe"
    ? "Syringe: the bottle without air is filled first."
    : "The aerobic bottle first: it takes the air of the tubing.";
}
