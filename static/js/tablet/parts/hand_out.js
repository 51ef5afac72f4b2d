// Hands a text out as a file the person can save.

import { el } from "./dom.js";

export function handOut(name, text) {
  const address = URL.createObjectURL(new Blob([text], { type: "application/x-ndjson" }));
  const link = document.body.appendChild(el("a", { href: address, download: name, hidden: true }));
  link.click();
  link.remove();
  URL.revokeObjectURL(address);
}
