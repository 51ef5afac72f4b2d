// Two arms as you face the patient: the patient's right arm is on your left. Our own drawing, with words for all of it.

import { el, svg } from "./dom.js";

/** Places in the order they are preferred in. */
// ST-01: median cubital, cephalic, basilic last (secondary source)
export const PLACES = [
  { place: "median_cubital", says: "elbow, middle", trade: "median cubital" },
  { place: "cephalic", says: "elbow, thumb side", trade: "cephalic" },
  { place: "basilic", says: "elbow, inner side", trade: "basilic: last choice" },
  { place: "forearm", says: "forearm", trade: "" },
  { place: "hand", says: "back of the hand", trade: "winged set" },
];

/** @param place a place's code @returns its words */
export function placeText(place) {
  return PLACES.find((each) => each.place === place)?.says ?? (place === "foot" ? "foot" : "");
}

/**
 * @param options {closed: {left: text|null, right: text|null}, chosen: {side, place}|null, onSide, preferred, tried: the side a needle was in before, or null}
 */
export function twoArms({ closed, side, place, onSide, preferred, tried = null }) {
  return el(
    "div",
    { class: "arms", role: "group", "aria-label": "Which arm. You face the patient." },
    ["right", "left"].map((each) =>
      armSide(each, {
        why: closed[each],
        chosen: side === each,
        place,
        onSide,
        preferred: preferred === each,
        tried: tried === each,
      }),
    ),
  );
}

function armSide(side, { why, chosen, place, onSide, preferred, tried }) {
  return el(
    "button",
    {
      class: "arm",
      type: "button",
      "aria-pressed": chosen ? "true" : "false",
      onclick: () => onSide(side),
      data: { side, closed: why ? "yes" : "no", rank: "row" },
    },
    el("b", { class: "arm-side" }, side.toUpperCase()),
    armPicture(side, { closed: Boolean(why), place: chosen ? place : null }),
    el("span", { class: "arm-words" }, armWords(side, { why, chosen, preferred, tried })),
  );
}

function armWords(side, { why, chosen, preferred, tried }) {
  if (why) return `closed: ${why}`;
  if (tried) return "tried already";
  if (preferred) return "the patient prefers this arm";
  return chosen ? "chosen" : `the patient’s own ${side}`;
}

/** One arm, with the place marked where one is chosen. `strap`: "on", or "here" for where the tourniquet goes. */
// Drawn once, hanging down, palm forward, thumb outward; the patient's left arm is its mirror image.
export function armPicture(side, { closed = false, place = null, strap = null } = {}) {
  const spot = SPOTS[place] ?? null;
  return svg(
    "svg",
    { class: "arm-picture", viewBox: "0 0 180 360", "aria-hidden": "true", focusable: "false" },
    svg(
      "g",
      { transform: side === "left" ? "translate(180 0) scale(-1 1)" : null },
      svg("g", { class: "arm-edge" }, limb()),
      svg("g", { class: "arm-skin" }, limb()),
      VEINS.map((vein) => svg("path", { class: "arm-vein", d: vein })),
      svg("path", { class: "arm-fold", d: "M58 142 Q88 156 122 140" }),
      strap ? svg("path", { class: "arm-strap", data: { on: strap }, d: "M46 70 Q90 82 134 70" }) : null,
      spot ? svg("circle", { class: "arm-spot", cx: spot[0], cy: spot[1], r: 17 }) : null,
      closed ? svg("path", { class: "arm-closed", d: "M22 36 L158 322 M158 36 L22 322" }) : null,
    ),
  );
}

// The edge is the same shapes, drawn wider underneath.
function limb() {
  return [
    svg("path", { class: "arm-limb", d: LIMB }),
    FINGERS.map((d) => svg("path", { class: "arm-finger", d })),
  ];
}

const LIMB =
  "M50 -8 C49 46 52 92 56 128 C50 160 57 206 69 250 C66 268 64 280 66 292 Q90 306 115 291 C116 278 113 266 111 250" +
  " C123 206 130 160 124 128 C128 92 131 46 130 -8 Z";

const FINGERS = [
  "M72 288 L69 328",
  "M84 294 L83 342",
  "M97 294 L98 340",
  "M109 288 L113 324",
  "M71 262 Q52 274 45 300",
];

const VEINS = [
  "M112 8 C110 60 108 100 106 134 C114 170 112 205 100 240",
  "M66 8 C68 60 70 100 72 134 C66 170 70 205 82 240",
  "M70 118 C82 136 98 146 108 150",
  "M82 240 C83 262 82 276 80 290",
  "M100 240 C99 262 100 276 102 290",
];

const SPOTS = {
  median_cubital: [90, 142],
  cephalic: [70, 128],
  basilic: [109, 134],
  forearm: [92, 196],
  hand: [91, 288],
};
