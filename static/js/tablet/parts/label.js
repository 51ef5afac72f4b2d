// A label drawn from the layout in the packet (millimetres from the top left); time and collector are filled in.

import { svg } from "./dom.js";

/**
 * @param layout {width_mm, height_mm, texts, bars, fill_in} @param filled {time, collector, name?, record?, tube?}
 */
export function labelPicture(layout, filled = {}) {
  return svg(
    "svg",
    {
      class: "label",
      viewBox: `0 0 ${layout.width_mm} ${layout.height_mm}`,
      role: "img",
      "aria-label": "Label",
    },
    svg("rect", {
      class: "label-paper",
      x: 0,
      y: 0,
      width: layout.width_mm,
      height: layout.height_mm,
      rx: 0.8,
    }),
    (layout.texts ?? []).map((text) => words(text, text.from ? (filled[text.from] ?? "") : text.text)),
    layout.bars ? bars(layout.bars) : null,
    Object.entries(layout.fill_in ?? {}).map(([what, place]) => words(place, filled[what] ?? "")),
  );
}

// A machine with wider letters than the layout reckoned with must not print over the next column.
function words(place, text) {
  const tooWide = place.room && widthOf(text, place) > place.room;
  return svg(
    "text",
    {
      class: "label-ink",
      x: place.x,
      y: place.y,
      "font-size": place.size,
      "font-weight": place.bold ? 700 : 400,
      textLength: tooWide ? place.room : null,
      lengthAdjust: tooWide ? "spacingAndGlyphs" : null,
    },
    text,
  );
}

const pen = document.createElement("canvas").getContext("2d");

function widthOf(text, { size, bold }) {
  pen.font = `${bold ? 700 : 400} 100px "DejaVu Sans", "Noto Sans", sans-serif`;
  return (pen.measureText(text).width * size) / 100;
}

/** Bars as rectangles: each run of 1 in the module string. */
function bars({ x, y, height, module, modules }) {
  return svg(
    "g",
    { class: "label-bars", "shape-rendering": "crispEdges" },
    [...modules.matchAll(/1+/g)].map((run) =>
      svg("rect", { x: x + run.index * module, y, width: run[0].length * module, height }),
    ),
  );
}
