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

/** A main action that waits for something: what is missing stands on it, else its own hint. */
export const waitsFor = (missing, main) => ({
  ...main,
  off: Boolean(missing),
  hint: missing ? `still missing: ${missing}` : (main.hint ?? null),
});

/**
 * The same while somebody types: the field they type in must not be drawn anew.
 * @param missing what is missing now, or null @param says what the action says when nothing is
 */
export function mainNow(missing, { says = null, hint = null } = {}) {
  const main = document.querySelector("button.main");
  if (!main) return;
  main.disabled = Boolean(missing);
  const words = missing ? `still missing: ${missing}` : hint;
  const line = main.querySelector(".main-hint") ?? main.appendChild(el("span", { class: "main-hint" }));
  line.textContent = words ?? "";
  line.hidden = !words;
  if (says) main.querySelector(".main-says").textContent = says;
}
