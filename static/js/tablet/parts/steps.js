// What to do now, as big numbered steps; each can be ticked, none has to be.

import { el } from "./dom.js";

/** @param steps texts @param ticked set of texts @param onTick called with the text */
export function stepList(steps, ticked, onTick) {
  return el(
    "ol",
    { class: "steps" },
    steps.map((step, index) =>
      el(
        "li",
        {},
        el(
          "button",
          {
            class: "step",
            type: "button",
            "aria-pressed": ticked.includes(step) ? "true" : "false",
            onclick: () => onTick(step),
            data: { rank: "other" },
          },
          el("b", { class: "step-number" }, `${index + 1}`),
          el("span", { class: "step-words" }, step),
          el("span", { class: "step-done" }, ticked.includes(step) ? "done" : ""),
        ),
      ),
    ),
  );
}
