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
 * @param options {closed: {left: text|null, right: text|null}, chosen: {side, place}|null, onSide, preferred}
 */
export function twoArms({ closed, side, place, onSide, preferred }) {
  return el("div", { class: "arms", role: "group", "aria-label": "Which arm. You face the patient." },
    ["right", "left"].map((each) => armSide(each, { why: closed[each], chosen: side === each, place, onSide, preferred: preferred === each })));
}

function armSide(side, { why, chosen, place, onSide, preferred }) {
  return el("button", { class: "arm", type: "button", "aria-pressed": chosen ? "true" : "false", onclick: () => onSide(side),
    data: { side, closed: why ? "yes" : "no", rank: "row" } },
    el("b", { class: "arm-side" }, side.toUpperCase()),
    armPicture(side, { closed: Boolean(why), place: chosen ? place : null }),
    el("span", { class: "arm-words" }, why ? `closed: ${why}` : preferred ? "the patient prefers this arm" : chosen ? "chosen" : "the patient’s own " + side));
}

// Drawn once, hanging down with the palm forward; the other side is its mirror image.
function armPicture(side, { closed, place }) {
  const flip = side === "left" ? "translate(200 0) scale(-1 1)" : null;
  return svg("svg", { class: "arm-picture", viewBox: "0 0 200 340", "aria-hidden": "true", focusable: "false" },
    svg("g", { transform: flip },
      svg("path", { class: "arm-skin", d: ARM }),
      svg("path", { class: "arm-fold", d: "M72 150 Q98 162 126 148" }),
      VEINS.map((vein) => svg("path", { class: "arm-vein", d: vein })),
      place ? svg("circle", { class: "arm-spot", cx: SPOTS[place]?.[0] ?? 98, cy: SPOTS[place]?.[1] ?? 150, r: 15 }) : null,
      closed ? svg("path", { class: "arm-closed", d: "M40 40 L160 300 M160 40 L40 300" }) : null));
}

const ARM = "M66 8 C60 60 64 100 68 140 C62 180 66 214 76 246 C72 268 68 290 76 322 C80 334 90 332 90 320 L92 300 L95 328"
  + " C98 336 107 334 107 326 L108 300 L112 322 C116 330 124 326 122 316 L116 268 C124 274 130 284 136 288 C142 290 146 284 140 276"
  + " C132 264 124 254 116 244 C126 212 132 180 128 142 C134 100 138 60 134 8";

const VEINS = ["M74 60 C76 100 78 128 84 150 C80 180 80 208 88 236", "M126 60 C124 100 122 128 114 150 C120 180 118 208 108 236", "M80 132 C92 150 104 156 118 140"];

const SPOTS = { median_cubital: [98, 152], cephalic: [122, 142], basilic: [80, 144], forearm: [98, 206], hand: [94, 282] };
