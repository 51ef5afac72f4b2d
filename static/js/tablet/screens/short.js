// How much is in a tube that did not fill: a mark touched, or millilitres typed; the drawing shows it.

import { ml } from "../child.js";
import { el } from "../parts/dom.js";
import { waitsFor } from "../parts/fields.js";
import { afterKey, keypad } from "../parts/keypad.js";
import { tubePicture, wordsFor } from "../parts/tube.js";
import { containerOf, Numbered, numbered, wrong } from "./common.js";

/** The marks on a tube: a share of what it holds, and its words. */
export const SHARES = [
  ["1", "full"],
  ["0.75", "¾"],
  ["0.5", "½"],
  ["0.25", "¼"],
];

const TENTHS = 10;

/** A share of a tube in mL, to a tenth; null for full, and where nobody knows what it holds. */
export function volumeOf(tube, share) {
  if (share === "1" || !tube.nominal_ml) return null;
  return Math.round(tube.nominal_ml * Number(share) * TENTHS) / TENTHS;
}

/** @param page {tube, afterwards: bool, into: "marked"|null} into: kept for the list of what was filled, not recorded yet */
export function short(v, desk, page) {
  const tube = v.done.tubes.find((each) => each.id === page.tube);
  const typed = page.typed ?? "";
  const volume = typed ? Number(typed) : null;
  const trouble = troubleWith(tube, volume);
  return {
    name: "short",
    sentence: `How much is in ${numbered(tube)}, ${wordsFor(containerOf(v, tube), tube)}?`,
    aside: tube.nominal_ml ? `It holds ${ml(tube.nominal_ml)} when it is full.` : null,
    body: [
      el(
        "div",
        { class: "beside-keys" },
        el(
          "div",
          { class: "big-tube" },
          tubePicture(
            { ...containerOf(v, tube), kind: tube.kind },
            { share: volume && tube.nominal_ml ? volume / tube.nominal_ml : 0, inHand: true },
          ),
          el("p", { class: "digits-line", data: { empty: typed ? "no" : "yes" } }, `${typed || "_._"} mL`),
        ),
        keypad((key) => desk.setPage({ typed: pointed(typed, key) }), { point: true }),
      ),
      el("p", { class: "trouble", role: "status" }, trouble ?? ""),
    ],
    main: waitsFor(typed && !trouble ? null : "millilitres", {
      says: volume ? `${Numbered(tube)}: ${ml(volume)}` : "That is in it",
      act: () => take(v, desk, tube, volume),
    }),
    row: [{ says: "Back", act: () => desk.closePage() }, wrong(desk)],
  };
}

const MOST_KEYS = 4;

function pointed(typed, key) {
  if (key !== ".") return afterKey(typed, key, MOST_KEYS);
  return typed.includes(".") ? typed : `${typed || "0"}.`;
}

function troubleWith(tube, volume) {
  if (volume !== null && tube.nominal_ml && volume > tube.nominal_ml)
    return `It holds only ${ml(tube.nominal_ml)}.`;
  return volume === 0 ? "Nothing in it: then it was not filled." : null;
}

async function take(v, desk, tube, volume) {
  const { into = null, afterwards = false } = desk.place.over.at(-1);
  desk.closePage();
  if (into === "marked") return desk.setDraft({ shorts: { ...v.draft.shorts, [tube.id]: volume } });
  const mix =
    v.inversions(tube) && !tube.filled ? [{ kind: "tube_mixed", data: { tube: tube.id, inversions: 1 } }] : [];
  const data = { tube: tube.id, volume_ml: volume, ...(afterwards ? { after: true } : {}) };
  return desk.act([{ kind: "tube_filled", data }, ...mix]);
}
