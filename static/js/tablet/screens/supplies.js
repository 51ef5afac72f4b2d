// What to carry for the rest of the round: containers with spares, needles, and what single beds ask for.

import { containersOfAll, isBottle, needsOfAll } from "../carrying.js";
import { capColour } from "../parts/tube.js";
import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";
import { rack } from "../parts/rack.js";
import { count, countOf } from "./common.js";

// One more of each kind: a tube may have lost its vacuum (OD-23). How many is common practice, no source.
const SPARES_EACH = 1;

export function supplies(desk) {
  const { book } = desk.packetInUse();
  const open = desk
    .stops()
    .filter(({ visit, done }) => !done.ended && !visit.ended && !visit.cancelled)
    .map(({ visit }) => visit);
  const needed = containersOfAll(open, book);
  return {
    name: "supplies",
    sentence: "To carry",
    aside: `${count(open.length, "bed")}, ${countOf(open.flatMap((visit) => visit.tubes))}. Beside each: how many, and a spare.`,
    body: [
      rack(
        needed.map(({ kind, count: many }) => ({ id: kind, kind, number: `${many} + ${SPARES_EACH}`, filled: null })),
        book.containers,
        { lines: (tube, container) => [capColour(container)] },
      ),
      list("Needles", needles(open)),
      list("For single beds", needsOfAll(open).map((need) => special(need, open))),
      list("For every bed", EVERY_BED),
    ],
    main: { says: "Back to the round", act: () => desk.closePage() },
    row: [],
  };
}

function list(title, texts) {
  return texts.length ? el("section", {}, el("h2", { class: "group-name" }, title), lines(texts, "quiet")) : null;
}

// ST-12: two attempts, so two needles a bed at most. ST-14: 21 straight, 23 winged (sizes from memory)
function needles(open) {
  const of = (kind) => open.filter((visit) => (visit.needle ?? "straight") === kind).length;
  return [
    of("straight") ? `${of("straight")} straight, 21 gauge, and as many again for a second try` : null,
    `${of("winged")} winged (butterfly), 23 gauge, and 2 more for hands and rolling veins`,
    open.some((visit) => visit.needle !== "winged" && startsWithCitrate(visit))
      ? "discard tubes, in case a winged set is used before citrate"
      : null,
  ].filter(Boolean);
}

const startsWithCitrate = (visit) => visit.tubes.find((tube) => !isBottle(tube))?.kind === "citrate";

function special({ key, says, hint, count: many }, open) {
  const beds = open.filter((visit) => isFor(visit, key)).map(({ room, bed }) => `${room} ${bed}`);
  return `${many} × ${says}${hint ? `: ${hint}` : ""}${beds.length ? ` (${beds.join(", ")})` : ""}`;
}

const isFor = (visit, key) => needsOfAll([visit]).some((need) => need.key === key);

// ST-19, TQ-13, CP-07, CP-10: gloves without latex, single-use tourniquets, gauze, sharps box
const EVERY_BED = [
  "gloves (not latex), single-use tourniquet, 70 % isopropyl wipes, gauze, tape",
  "sharps box, hand rub, transport bags, label roll, pen",
];
