// A list to tick: each line is one large button, what is ticked stands back.

import { el } from "./dom.js";
import { live } from "./live.js";

/**
 * @param lines [{says, about: [texts], count: text or null, mark: text or null, look, isTicked, onTick, live: moment → text}]
 * @param options {label, name: a heading over the list}
 */
export function ticked(lines, { label, name = null }) {
  if (!lines.length) return null;
  return el(
    "section",
    { class: "stretch" },
    name ? el("h2", { class: "group-name" }, name) : null,
    el("ul", { class: "ticked", "aria-label": label }, lines.map((line) => el("li", {}, tickLine(line)))),
  );
}

function tickLine({ says, about = [], count = null, mark = null, look = "plain", isTicked, onTick, live: tell = null }) {
  return el(
    "button",
    {
      class: "tick",
      type: "button",
      "aria-pressed": String(isTicked),
      onclick: onTick,
      data: { rank: "row", look },
    },
    el("span", { class: "tick-box", "aria-hidden": "true" }, isTicked ? "✓" : ""),
    count === null ? null : el("b", { class: "tick-count" }, count),
    el(
      "span",
      { class: "tick-words" },
      el("b", {}, says),
      about.filter(Boolean).map((line) => el("span", {}, line)),
    ),
    mark || tell ? markOf(mark, tell) : null,
  );
}

function markOf(mark, tell) {
  const node = el("span", { class: "tick-mark" }, mark ?? "");
  return tell ? live(node, tell) : node;
}
