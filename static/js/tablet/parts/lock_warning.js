// Says that the tablet locks soon. Any touch keeps it open; the button says so.

import { el } from "./dom.js";

export function lockWarning() {
  // Read out once; the seconds are for the eye alone.
  const left = el("span", { class: "digits", "aria-hidden": "true" });
  const words = el("p", { class: "lock-warning-words" }, "This tablet locks soon. Nothing is lost. ", left);
  const stay = el("button", { class: "lock-warning-stay", type: "button", data: { rank: "other" } }, "Stay");
  const node = el("div", { class: "lock-warning", role: "alert", hidden: true }, words, stay);
  node.show = (seconds) => {
    node.hidden = seconds === null;
    if (seconds !== null) left.textContent = `${seconds} s`;
  };
  return node;
}
