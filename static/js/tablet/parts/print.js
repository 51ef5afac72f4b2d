// Sends labels to the printer: a sheet only the print stylesheet shows, one label a page.

import { el, fill } from "./dom.js";
import { labelPicture } from "./label.js";

/** @param labels [{layout, filled}]; asked to print is all that can be known. */
export function printLabels(labels) {
  const sheet =
    document.querySelector("#print-sheet") ??
    document.body.appendChild(el("div", { id: "print-sheet", "aria-hidden": "true" }));
  fill(
    sheet,
    labels.map(({ layout, filled }) => el("div", { class: "print-label" }, labelPicture(layout, filled))),
  );
  window.print();
}
