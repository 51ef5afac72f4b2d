// One container seen from the front: cap colour, cap pattern, level, the mark to fill to. Our own drawing.

import { el, svg } from "./dom.js";

const GLASS = { top: 58, bottom: 292, left: 14, right: 86 };

/**
 * @param container {cap, pattern, kind}: of the rulebook
 * @param state {share: 0..1 or null, inHand: bool, struck: bool}
 */
export function tubePicture(container, state = {}) {
  const bottle = String(container.kind ?? "").startsWith("culture");
  return svg(
    "svg",
    {
      class: "tube",
      viewBox: "0 0 100 300",
      "aria-hidden": "true",
      focusable: "false",
      data: { hand: state.inHand ? "yes" : "no", struck: state.struck ? "yes" : "no" },
    },
    bottle ? bottleBody(state) : glassBody(state),
    capPicture(container, bottle),
    state.struck ? svg("path", { class: "tube-cross", d: "M10 80 L90 280 M90 80 L10 280" }) : null,
  );
}

/** The cap alone, for a small legend. */
function capPicture(container, bottle = false) {
  const box = bottle ? { x: 30, y: 4, width: 40, height: 44 } : { x: 5, y: 4, width: 90, height: 52 };
  return svg(
    "g",
    { class: `cap cap-${slug(container.cap)}` },
    svg("rect", { class: "cap-ground", ...box, rx: 8 }),
    patternPicture(container.pattern, box),
  );
}

function glassBody(state) {
  const { top, bottom, left, right } = GLASS;
  const bend = (right - left) / 2;
  const outline = `M${left} ${top} V${bottom - bend} A${bend} ${bend} 0 0 0 ${right} ${bottom - bend} V${top}`;
  return [
    bloodIn(outline, state.share, top + 14, bottom),
    svg("path", { class: "tube-glass", d: outline }),
    svg("path", { class: "tube-mark", d: `M${left} ${top + 36} h20` }),
  ];
}

function bottleBody(state) {
  const outline = "M36 48 V96 Q12 104 12 132 V276 Q12 292 28 292 H72 Q88 292 88 276 V132 Q88 104 64 96 V48";
  return [
    bloodIn(outline, state.share, 120, 292),
    svg("path", { class: "tube-glass", d: outline }),
    svg("path", { class: "tube-mark", d: "M12 150 h20" }),
  ];
}

// The level is cut from the glass by a second path, so that no id has to be unique on the page.
function bloodIn(outline, share, top, bottom) {
  if (!share) return null;
  const level = bottom - (bottom - top) * Math.min(1, share);
  return svg(
    "svg",
    {
      x: 0,
      y: level,
      width: 100,
      height: 300 - level,
      viewBox: `0 ${level} 100 ${300 - level}`,
      preserveAspectRatio: "none",
    },
    svg("path", { class: "tube-blood", d: outline }),
    svg("rect", { class: "tube-level", x: 14, y: level, width: 72, height: 5 }),
  );
}

function patternPicture(pattern, { x, y, width, height }) {
  const draw = PATTERNS[pattern] ?? PATTERNS.plain;
  return svg("g", { class: "cap-pattern" }, draw(x, y, width, height));
}

const line = (d) => svg("path", { d });
const spot = (cx, cy, r = 4) => svg("circle", { cx, cy, r });

const solid = (x, y, width, height) => svg("rect", { class: "solid", x, y, width, height });
const hollow = (cx, cy, r) => svg("circle", { class: "hollow", cx, cy, r });
const bar =
  (row, thick = 0.12) =>
  (x, y, w, h) =>
    solid(x, y + h * row, w, h * thick);

function slants(x, y, w, h) {
  return [0.06, 0.24, 0.42, 0.6, 0.78].map((column) =>
    line(`M${x + w * column} ${y + h * 0.9} L${x + w * (column + 0.18)} ${y + h * 0.1}`),
  );
}

function chevrons(x, y, w, h) {
  return [0.14, 0.34, 0.54, 0.74].map((column) =>
    line(`M${x + w * column} ${y + h * 0.2} l${w * 0.1} ${h * 0.3} l${-w * 0.1} ${h * 0.3}`),
  );
}

function speckle(x, y, w, h) {
  const places = [
    [0.12, 0.3],
    [0.26, 0.7],
    [0.36, 0.22],
    [0.5, 0.55],
    [0.62, 0.26],
    [0.72, 0.74],
    [0.86, 0.4],
  ];
  return places.map(([column, row]) => spot(x + w * column, y + h * row, 3));
}

function grid(x, y, w, h) {
  const down = [0.2, 0.4, 0.6, 0.8].map((column) => line(`M${x + w * column} ${y + 2} V${y + h - 2}`));
  return [...down, ...[0.33, 0.66].map((row) => line(`M${x + 2} ${y + h * row} H${x + w - 2}`))];
}

function diamonds(x, y, w, h) {
  return [0.2, 0.5, 0.8].map((column) =>
    svg("path", {
      class: "solid",
      d: `M${x + w * column} ${y + h * 0.24} l9 ${h * 0.26} l-9 ${h * 0.26} l-9 ${-h * 0.26} z`,
    }),
  );
}

// The names are the rulebook's. One that is not here is drawn plain; the words still tell the tubes apart.
const PATTERNS = {
  plain: () => [],
  dots: (x, y, w, h) =>
    [0.34, 0.66].flatMap((row) =>
      [0.18, 0.34, 0.5, 0.66, 0.82].map((column) => spot(x + w * column, y + h * row, 3.6)),
    ),
  band: (x, y, w, h) => [bar(0.42, 0.2)(x, y, w, h)],
  stripes: (x, y, w, h) => [0.2, 0.46, 0.72].map((row) => bar(row)(x, y, w, h)),
  rows: (x, y, w, h) => [0.3, 0.66].map((row) => line(`M${x + 10} ${y + h * row} H${x + w - 10}`)),
  slant: slants,
  "slant-band": (x, y, w, h) => [...slants(x, y, w, h), bar(0.42, 0.2)(x, y, w, h)],
  chevrons,
  speckle,
  grid,
  diamonds,
  ring: (x, y, w, h) => [hollow(x + w * 0.5, y + h * 0.5, 13)],
  "double-ring": (x, y, w, h) => [
    hollow(x + w * 0.32, y + h * 0.5, 12),
    hollow(x + w * 0.68, y + h * 0.5, 12),
  ],
  cross: (x, y, w, h) => [
    line(
      `M${x + w * 0.34} ${y + h * 0.2} l${w * 0.32} ${h * 0.6} M${x + w * 0.66} ${y + h * 0.2} l${-w * 0.32} ${h * 0.6}`,
    ),
  ],
  "bottle-air": (x, y, w, h) => [hollow(x + w * 0.5, y + h * 0.42, 10)],
  "bottle-no-air": (x, y, w, h) => [
    hollow(x + w * 0.5, y + h * 0.42, 10),
    line(`M${x + w * 0.5 - 12} ${y + h * 0.42 + 12} l24 -24`),
  ],
  "bottle-small": (x, y, w, h) => [spot(x + w * 0.5, y + h * 0.42, 5)],
};

/** "light blue" → "light-blue": the name of the colour in the stylesheet. */
function slug(words) {
  return String(words ?? "")
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-");
}

/** What the container is called: the rulebook's name, else its kind. */
export function wordsFor(container, tube) {
  return container?.name ?? container?.label ?? tube.kind;
}

/** "light blue cap"; "" for a bottle, which has none to speak of. */
export function capWords(container) {
  return !container?.cap || container.cap === "bottle" ? "" : `${container.cap} cap`;
}

/** The colour alone, for a caption. */
export function capColour(container) {
  return capWords(container) ? container.cap : "";
}

/** Name, colour and state below a tube. */
export function tubeCaption(tube, container, lines, now) {
  return el(
    "span",
    { class: "tube-caption", data: { now: now ? "yes" : "no" } },
    el("b", { class: "tube-name" }, `${tube.number} ${wordsFor(container, tube)}`),
    lines.filter(Boolean).map((text) => el("span", { class: "tube-line" }, text)),
  );
}
