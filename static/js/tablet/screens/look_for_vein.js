// The first tourniquet: on to look for a vein, off again before the skin is cleaned.

import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";
import { armPicture, placeText } from "../parts/arms.js";
import { notDrawn, underOrder, writtenOrder, wrong } from "./common.js";

export function lookForVein(v, desk) {
  const { side } = v.done.prep.site;
  const on = Object.keys(v.done.tourniquet).length > 0;
  return on ? searching(v, desk, side) : before(v, desk, side);
}

// The cross stays on an arm that only a written order opens.
const picture = (v) => ({ place: v.done.prep.site.place, closed: Boolean(writtenOrder(v)) });

// CP-01, CP-03: common practice, no source. TQ-11: a fist, no pumping (secondary source)
function before(v, desk, side) {
  return {
    name: "look_for_vein",
    sentence: `Tourniquet on the ${side} arm, to find the vein`,
    aside: `${[`Site: ${placeText(v.done.prep.site.place)}`, writtenOrder(v)].filter(Boolean).join(", ")}.`,
    body: [
      el("div", { class: "one-arm" }, armPicture(side, { ...picture(v), strap: "here" })),
      lines([
        "Three to four fingers above the bend of the elbow, ends pointing up.",
        "A fist, no pumping.",
        "Feel with two fingers: how deep, how wide, which way.",
      ]),
    ],
    main: {
      says: "Tourniquet on",
      hint: `${side} arm`,
      act: () => desk.act(underOrder(v, desk, [{ kind: "tourniquet_on", data: { side } }])),
    },
    row: [
      { says: "Vein seen without it", act: () => desk.setDraft({ skipLook: true }) },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}

function searching(v, desk, side) {
  const off = [{ kind: "tourniquet_off", data: { side } }];
  return {
    name: "look_for_vein",
    sentence: v.over.tourniquet ? "Tourniquet off now" : "Find the vein, then take it off",
    body: [el("div", { class: "one-arm" }, armPicture(side, { ...picture(v), strap: "on" }))],
    aside: "Off again before gloves and cleaning.",
    main: { says: "Tourniquet off", hint: "vein found", look: "panel", act: () => desk.act(off) },
    row: [
      {
        says: "No vein here: other site",
        act: () =>
          desk
            .act(off, { again: v.done.needles.length, otherSite: true })
            .then(() => desk.openPage("other_site")),
      },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}
