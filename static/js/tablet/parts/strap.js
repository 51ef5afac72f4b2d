// A running clock as a strap: its limit at the right edge, its marks named on the ruler underneath.

import { el, set } from "./dom.js";
import { spanText } from "./when.js";
import { secondsOn, toneAt } from "../clocks.js";

/** The band of straps for `clocks`; `tight` where two or more share the head of the screen. */
export function clockBand(clocks, now) {
  const straps = clocks.map((clock) => strap(clock, now));
  const band = el(
    "section",
    { class: "clocks", "aria-label": "Running clocks", data: { tight: clocks.length > 1 ? "yes" : "no" } },
    straps,
  );
  band.tick = (instant) => {
    for (const each of straps) each.tick(instant);
    const worst = straps.map((each) => each.dataset.tone);
    band.dataset.tone = worst.includes("stop") ? "stop" : worst.includes("act") ? "act" : "calm";
  };
  band.tick(now);
  return band;
}

function strap(clock, now) {
  const filled = el("div", { class: "strap-filled" });
  const digits = el("span", { class: "strap-digits" });
  const words = el("span", { class: "strap-words" });
  const node = el(
    "div",
    { class: "strap", role: "timer", "aria-label": clock.says, data: { kind: clock.kind } },
    el("div", { class: "strap-belt" }, filled, digits),
    el(
      "div",
      { class: "strap-ruler", "aria-hidden": "true" },
      ticks(clock),
      clock.marks.map((mark) => markTick(mark, clock.limit)),
    ),
    el("div", { class: "strap-legend" }, words, legend(clock)),
  );
  node.tick = (instant) => show(node, { clock, filled, digits, words }, secondsOn(clock, instant));
  node.tick(now);
  return node;
}

function show(node, parts, seconds) {
  const { clock, filled, digits, words } = parts;
  const share = Math.min(1, seconds / clock.limit);
  set(filled, "inline-size", `${(share * 100).toFixed(2)}%`);
  set(digits, "inset-inline-start", `${(share * 100).toFixed(2)}%`);
  digits.textContent = spanText(seconds);
  digits.dataset.inside = share > 0.16 ? "yes" : "no";
  node.dataset.tone = toneAt(clock, seconds);
  node.dataset.over = seconds >= clock.limit ? "yes" : "no";
  words.textContent = node.dataset.over === "yes" ? `${clock.says}: ${clock.whenOver}` : clock.says;
}

function ticks(clock) {
  const step = clock.limit <= 10 ? 1 : clock.limit <= 60 ? 5 : 60;
  const count = Math.floor(clock.limit / step);
  return Array.from({ length: count + 1 }, (_, index) =>
    at(el("i", { class: "strap-tick" }), (index * step) / clock.limit),
  );
}

function markTick(mark, limit) {
  return at(el("i", { class: "strap-tick strap-mark" }), mark.at / limit);
}

function legend(clock) {
  return clock.marks.map((mark) => {
    const last = mark.at === clock.limit;
    const name = el(
      "span",
      { class: last ? "strap-mark-name strap-mark-last" : "strap-mark-name" },
      mark.says,
    );
    return last ? name : at(name, mark.at / clock.limit);
  });
}

function at(node, share) {
  return set(node, "inset-inline-start", `${(share * 100).toFixed(2)}%`);
}
