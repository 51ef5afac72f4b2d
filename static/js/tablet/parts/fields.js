// Words typed by hand: one line or several, kept as a draft while they are typed.

import { el } from "./dom.js";

/** @param onInput called with the text on every change */
export function textField({ label, value = "", onInput, many = false, hint = null, mode = null }) {
  const box = el(many ? "textarea" : "input", {
    class: "field-box",
    rows: many ? 3 : null,
    type: many ? null : "text",
    autocomplete: "off",
    autocapitalize: "words",
    spellcheck: "false",
    inputmode: mode,
    "aria-label": label,
    data: { rank: "other" },
    oninput: (event) => onInput(event.target.value),
  });
  box.value = value;
  return el(
    "label",
    { class: "field" },
    el("span", { class: "field-label" }, label),
    box,
    hint ? el("span", { class: "field-hint" }, hint) : null,
  );
}
