// Big keys for digits: a gloved knuckle hits them, and nothing is typed by the tablet's own keyboard.

import { el } from "./dom.js";

// "Back" is what leaves a screen: the key that takes the last digit away says what it does.
const WORDS = { back: "delete" };

/** @param onKey called with "0".."9", "clear" or "back"; with `point`, "." stands where "clear" does */
export function keypad(onKey, { point = false } = {}) {
  const keys = ["1", "2", "3", "4", "5", "6", "7", "8", "9", point ? "." : "clear", "0", "back"];
  return el(
    "div",
    { class: "keypad", role: "group", "aria-label": "Digits" },
    keys.map((key) =>
      el(
        "button",
        {
          class: /[\d.]/.test(key) ? "key" : "key key-word",
          type: "button",
          data: { rank: "row", key },
          onclick: () => onKey(key),
        },
        WORDS[key] ?? key,
      ),
    ),
  );
}

/** The digits after a key: at most `most` of them. */
export function afterKey(digits, key, most) {
  if (key === "clear") return "";
  if (key === "back") return digits.slice(0, -1);
  return (digits + key).slice(0, most);
}
