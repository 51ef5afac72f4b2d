// The round as a corridor: rooms in walking order along a line, the next door open, done doors faded.

import { el, svg } from "./dom.js";
import { live } from "./live.js";

/**
 * @param doors [{id, room, bed, name, about: text, why: [{says, look, live?: moment → {says, look}}],
 *   state: "done"|"next"|"begun"|"open"|"owed", onOpen}]
 * @param options {name: what this stretch of the corridor is called}
 */
export function corridor(doors, { name = null, look = "plain" } = {}) {
  return el(
    "section",
    { class: "stretch" },
    name ? el("h2", { class: "group-name" }, name) : null,
    el("ol", { class: "corridor", data: { look } }, doors.map(doorway)),
  );
}

function doorway(door) {
  return el(
    "li",
    { class: "door-place" },
    el(
      "button",
      {
        class: "door",
        type: "button",
        onclick: door.onOpen,
        data: { state: door.state, rank: "other", visit: door.id },
      },
      el(
        "span",
        { class: "door-room" },
        el("b", {}, door.room),
        el("span", {}, `bed ${door.bed}`),
        door.ward ? el("span", {}, `ward ${door.ward}`) : null,
      ),
      leaf(door.state),
      el(
        "span",
        { class: "door-who" },
        el("b", { class: "door-name" }, door.name),
        el("span", { class: "door-about" }, door.about),
      ),
      el(
        "span",
        { class: "door-why" },
        door.why.map(reason),
      ),
    ),
  );
}

function reason({ says, look = "plain", live: tell = null }) {
  const node = el("span", { data: { look } }, says);
  return tell ? live(node, tell) : node;
}

// A closed door is a stroke on the line; the next one stands open into the corridor.
function leaf(state) {
  const open = ["next", "begun", "owed"].includes(state);
  return svg(
    "svg",
    { class: "leaf", viewBox: "0 0 64 96", "aria-hidden": "true", focusable: "false" },
    svg("path", { class: "leaf-post", d: "M12 16 V80" }),
    open
      ? svg("path", { class: "leaf-open", d: "M12 16 L52 36 V100 L12 80 Z", transform: "scale(1 .94)" })
      : null,
  );
}

/** Draws that are not on this round, listed quietly. */
export function nurseCollects(list) {
  if (!list?.length) return null;
  return el(
    "section",
    { class: "quiet-list" },
    el("h2", {}, "Nurse collects"),
    el(
      "ul",
      {},
      list.map((each) =>
        el("li", {}, `Room ${each.room}, bed ${each.bed}: ${each.name}`, each.why ? `, ${each.why}` : ""),
      ),
    ),
  );
}
