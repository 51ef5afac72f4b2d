// What a log of sharps injuries asks for, beside the note: touched or typed, and put into the note's own words.
// ST-19: OSHA 1910.1030 (h)(5), device and brand, where and how (from memory); AE-26; the site's own form comes first.

import { alternatives } from "./choices.js";
import { el } from "./dom.js";
import { textField } from "./fields.js";

const TYPED = [
  ["device", "Device: kind and brand"],
  ["doing", "What was being done"],
  ["where", "Where on the body"],
];

const ASKED = [
  ["source", "Source patient known?"],
  ["washed", "Washed or rinsed?"],
  ["called", "Occupational health called?"],
];

const YES_NO = [
  ["yes", "yes"],
  ["no", "no"],
];

/** Incidents that belong in the log. */
export const isExposure = (kind) => ["needlestick", "splash"].includes(kind);

/** @param sharps the answers so far @param onChange called with the changes, and whether to draw again */
export function sharpsFields(sharps, onChange) {
  return el(
    "section",
    { class: "told" },
    el("h2", { class: "group-name" }, "For the sharps injury log"),
    TYPED.map(([key, label]) =>
      textField({ label, value: sharps[key] ?? "", onInput: (text) => onChange({ [key]: text }, false) }),
    ),
    ASKED.map(([key, question]) =>
      alternatives(question, YES_NO, sharps[key] ?? null, (value) => onChange({ [key]: value }, true)),
    ),
  );
}

/** What was answered, as lines of the note: "Device: kind and brand: …". */
export function sharpsLines(sharps = {}) {
  return [...TYPED, ...ASKED]
    .map(([key, words]) => [words.replace("?", ""), (sharps[key] ?? "").trim()])
    .filter(([, answer]) => answer)
    .map(([words, answer]) => `${words}: ${answer}`);
}
