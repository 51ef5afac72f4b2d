// Several answers side by side, each big enough for a glove; and small groups of alternatives.

import { el } from "./dom.js";

/** @param choices [{says, hint?, act, look?, chosen?}] */
export function tiles(choices, { wide = false, label = null } = {}) {
  return el(
    "div",
    {
      class: "tiles",
      role: "group",
      "aria-label": label,
      data: { wide: wide ? "yes" : "no", count: choices.length },
    },
    choices.map(tile),
  );
}

function tile(choice) {
  return el(
    "button",
    {
      class: "tile",
      type: "button",
      disabled: choice.off,
      onclick: choice.act,
      "aria-pressed": choice.chosen === undefined ? null : String(choice.chosen),
      data: { look: choice.look ?? "plain", rank: "row" },
    },
    el("b", {}, choice.says),
    choice.hint ? el("span", {}, choice.hint) : null,
  );
}

/**
 * One question with its alternatives on a line. @param options [[value, words], …]
 * @param how {slim: where it stands beside something larger and is seldom wanted}
 */
export function alternatives(question, options, value, onPick, { slim = false } = {}) {
  return el(
    "div",
    { class: "alternatives", role: "group", "aria-label": question, data: { slim: slim ? "yes" : "no" } },
    el("p", { class: "alternatives-question" }, question),
    el(
      "div",
      { class: "alternatives-line" },
      options.map(([each, words]) =>
        el(
          "button",
          {
            class: "pick",
            type: "button",
            "aria-pressed": String(each === value),
            onclick: () => onPick(each),
            data: { rank: slim ? "other" : "row" },
          },
          words,
        ),
      ),
    ),
  );
}

/** A list of lines to read. */
export function lines(texts, look = "plain") {
  const there = texts.filter(Boolean);
  return there.length
    ? el(
        "ul",
        { class: "lines", data: { look } },
        there.map((text) => el("li", {}, text)),
      )
    : null;
}
