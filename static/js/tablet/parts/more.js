// One quiet line that leads to a page of its own.

import { el } from "./dom.js";
import { live } from "./live.js";

/** @param says the line @param look "plain"|"act"|"stop" @param live moment → {says, look}, where the line counts */
export function moreLine(says, act, { look = "plain", aside = null, live: tell = null } = {}) {
  const words = el("b", {}, says);
  const node = el(
    "button",
    { class: "more", type: "button", onclick: act, data: { rank: "other", look } },
    el("span", { class: "more-words" }, words, aside ? el("span", {}, aside) : null),
    el("span", { class: "more-mark", "aria-hidden": "true" }, "›"),
  );
  return tell ? live(node, tell, words) : node;
}
