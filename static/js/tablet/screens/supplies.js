// What to take along, to be ticked before leaving: counts with spares, and in words what the store lacks.

import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";
import { ticked } from "../parts/ticked.js";
import { back } from "./to_lab.js";

export function supplies(desk) {
  const all = desk.packet.supplies ?? [];
  const packed = new Set(desk.packed());
  const short = all.filter((each) => each.short > 0);
  const open = all.filter(({ item }) => !packed.has(item));
  return {
    name: "supplies",
    sentence: sentence(all, open, short),
    aside: all.length ? "With spares. Touch what is packed." : NO_LIST,
    body: [
      lines(short.map(shortWords), "stop"),
      ...GROUPS.map(([sort, name]) => group(desk, name, all.filter(({ item }) => item.startsWith(`${sort}:`)), packed)),
      el("p", { class: "aside" }, EVERY_BED),
    ],
    main: { ...back(desk), look: open.length ? "quiet" : "act" },
    row: [],
  };
}

const GROUPS = [
  ["tube", "Containers"],
  ["needle", "Needles"],
  ["care", "Besides"],
];

const NO_LIST = "This round came without a list. Ask for new orders on “This tablet”.";

// ST-19, TQ-13: gloves without latex, single-use tourniquets. The rest: common practice, no source.
const EVERY_BED = "And for every bed: gloves (not latex), single-use tourniquet, sharps box, hand rub, label roll, pen.";

function sentence(all, open, short) {
  if (short.length) return `${short.reduce((sum, each) => sum + each.short, 0)} short in the store`;
  if (all.length && open.length === 0) return "All is packed";
  return open.length < all.length ? `${open.length} of ${all.length} still to pack` : "To take along";
}

// The beds come in walking order, so what is short is missing at the last of them.
function shortWords({ what, short, take, stock, for: beds }) {
  const last = beds.at(-1);
  return `${what}: ${short} short (${stock} of ${take} there). Take from another store, or ${last ? `bed ${last.replace(" ", "\u00a0")}` : "the last bed"} will wait.`;
}

function group(desk, name, list, packed) {
  return ticked(
    list.map((each) => line(desk, each, packed.has(each.item))),
    { label: name, name },
  );
}

const FEW = 3;

// A number and its unit do not part at the end of a line.
const together = (words) => words.replaceAll(/(\d) (mL|°C)/g, "$1\u00a0$2");

function line(desk, { item, what, count, spare, take, stock, short, for: beds }, isTicked) {
  const places = beds.length && beds.length <= FEW ? `for ${beds.join(", ")}` : null;
  return {
    says: together(what),
    count: String(take),
    about: [[spare ? `${count} and ${spare} spare` : null, places].filter(Boolean).join(" · ")],
    mark: short ? `${short} short` : stock === null || stock === undefined ? null : `${stock} in store`,
    look: short ? "stop" : "plain",
    isTicked,
    onTick: () => desk.pack(item),
  };
}
