// Digits typed in secret, or read off another screen: a field that takes the tablet's own keyboard, a paste or a password
// manager, and big keys beside it.

import { el } from "./dom.js";
import { afterKey, keypad } from "./keypad.js";

/**
 * @param {{label: string, secret: boolean, autocomplete: string, most: number, value: string,
 *   onType: (digits: string) => void, onEnter: (digits: string) => void}} about
 */
export function digitsField({ label, secret, autocomplete, most, value, onType, onEnter }) {
  const box = el("input", {
    class: "field-box digits-box",
    type: secret ? "password" : "text",
    inputmode: "numeric",
    autocomplete,
    "aria-label": label,
    data: { rank: "other" },
    oninput: () => onType(box.value),
    onkeydown: (event) => {
      if (event.key === "Enter") onEnter(box.value);
    },
  });
  box.value = value;
  const keys = keypad((key) => {
    box.value = afterKey(box.value, key, most);
    onType(box.value);
  });
  const node = el(
    "div",
    { class: "digits-field" },
    el("label", { class: "field" }, el("span", { class: "field-label" }, label), box),
    keys,
  );
  return { node, digits: () => box.value };
}
