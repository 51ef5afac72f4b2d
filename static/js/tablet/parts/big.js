// One thing to be read from a step away; and a countdown of that size.

import { el } from "./dom.js";
import { spanText } from "./when.js";
import { secondsSince } from "../clocks.js";

export function big(says, hint = null) {
  return el("div", { class: "big" }, el("b", {}, says), hint ? el("span", {}, hint) : null);
}

/** Seconds from `event` to `limit`, counted down; "0 s" once it is over. Ticks with the clocks. */
export function countdown(event, limit, hint, now) {
  const digits = el("b", { class: "big-digits", data: { live: "yes" } });
  digits.tick = (instant) => {
    digits.textContent = spanText(Math.ceil(Math.max(0, limit - secondsSince(event, instant))));
  };
  digits.tick(now);
  return el("div", { class: "big" }, digits, el("span", {}, hint));
}
