// Identity, blind: the birth date is typed as it is spoken. The order is not shown before.

import { isMinor } from "../child.js";
import { el } from "../parts/dom.js";
import { waitsFor } from "../parts/fields.js";
import { afterKey, keypad } from "../parts/keypad.js";
import { dateLine, readDate } from "../parts/date_entry.js";
import { dayIn } from "../parts/when.js";
import { notDrawn, wrong } from "./common.js";

export function birthDate(v, desk) {
  const digits = v.draft.spokenDigits ?? "";
  const { date, trouble } = readDate(digits, dayIn(v.now.at, v.zone));
  const vouched = v.draft.voice === "vouched";
  return {
    name: "birth_date",
    sentence: vouched
      ? `Ask ${v.draft.voucherName}: “When was the patient born?”`
      : "“What is your full name, and when were you born?”",
    aside: asideOf(v, vouched),
    body: [
      el(
        "div",
        { class: "beside-keys" },
        el("div", {}, dateLine(digits), el("p", { class: "trouble", role: "status" }, trouble ?? "")),
        keypad((key) => desk.setDraft({ spokenDigits: afterKey(digits, key, 8) })),
      ),
    ],
    main: waitsFor(date ? null : (trouble ? "a date that can be" : "day, month, year"), {
      says: "That is what was said",
      act: () => taken(desk, v, date),
    }),
    row: [
      vouched
        ? { says: "The patient can speak", act: () => desk.setDraft({ voice: null, spokenDigits: "" }) }
        : { says: "Cannot say it", act: () => desk.setDraft({ voice: "vouched", spokenDigits: "" }) },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}

// What is typed here is kept as the patient's own words: for a child, whoever speaks is named first.
function asideOf(v, vouched) {
  const type = "Type the date as it is said: day, month, year. The order is not shown until you have.";
  return isMinor(v) && !vouched ? `When somebody else says it for the child: first “Cannot say it”. ${type}` : type;
}

function taken(desk, v, date) {
  const data = { ...sourceOf(v), birth_date: date, how: "typed" };
  return desk.act([{ kind: "identity_taken", data }], { spokenDigits: "", retake: null });
}

/** Whose words these are: the patient's, or those of a named person who knows the patient. */
export function sourceOf(v) {
  if (v.draft.voice !== "vouched") return { source: "spoken" };
  return { source: "vouched", voucher: { name: v.draft.voucherName, relation: v.draft.voucherRelation } };
}
