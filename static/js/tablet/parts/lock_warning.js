// Says that the tablet locks soon. Any touch keeps it open; the button says so.

import { el } from "./dom.js";

export function lockWarning() {
  const words = el("span", { class: "lock-warning-words" });
  const stay = el("button", { class: "lock-warning-stay", type: "button", data: { rank: "other" } }, "Stay");
  const node = el("div", { class: "lock-warning", role: "alert", hidden: true }, words, stay);
  node.show = (seconds) => {
    node.hidden = seconds === null;
    if (seconds !== null) words.textContent = `Locks in ${seconds} s. Nothing is lost.`;
  };
  return node;
}
