// What to carry for the rest of the round.

import { capColour } from "../parts/tube.js";
import { el } from "../parts/dom.js";
import { rack } from "../parts/rack.js";
import { count } from "./common.js";

export function supplies(desk) {
  const book = desk.packetInUse().book;
  const open = desk
    .stops()
    .filter(({ visit, done }) => !done.ended && !visit.ended)
    .map(({ visit }) => visit);
  const kinds = new Map();
  for (const tube of open.flatMap((visit) => visit.tubes))
    kinds.set(tube.kind, (kinds.get(tube.kind) ?? 0) + 1);
  const needed = Object.keys(book.containers)
    .filter((kind) => kinds.has(kind))
    .map((kind) => ({ id: kind, kind, number: `${kinds.get(kind)} ×`, filled: null }));
  const winged = open.filter((visit) => visit.needle === "winged").length;
  return {
    name: "supplies",
    sentence: "To carry",
    aside: `${count(open.length, "bed")}, ${count(
      [...kinds.values()].reduce((sum, each) => sum + each, 0),
      "tube",
    )}${winged ? `, ${count(winged, "winged set")}` : ""}`,
    body: [
      rack(needed, book.containers, { lines: (tube, container) => [capColour(container)] }),
      spare(open),
    ],
    main: { says: "Back to the round", act: () => desk.closePage() },
    row: [],
  };
}

function spare(open) {
  const apart = open
    .filter((visit) => visit.isolation)
    .map((visit) => `room ${visit.room}, bed ${visit.bed}: ${visit.isolation} precautions`);
  return apart.length
    ? el(
        "ul",
        { class: "lines", data: { look: "act" } },
        apart.map((each) => el("li", {}, each)),
      )
    : null;
}
