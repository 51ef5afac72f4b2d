// The patient cannot say it: a named person who knows the patient speaks instead.

import { el } from "../parts/dom.js";
import { textField } from "../parts/fields.js";
import { tiles } from "../parts/choices.js";
import { notDrawn, wrong } from "./common.js";

// ID-13: nurse, relative or friend states it, and their name is recorded (from memory)
const RELATIONS = ["nurse on this ward", "relative", "friend", "carer"];

export function voucher(v, desk) {
  const { voucherName = "", voucherRelation = null } = v.draft;
  return {
    name: "voucher",
    sentence: "Who knows this patient and speaks for them?",
    aside: "A nurse, a relative or a friend. Their name is recorded. The band is read all the same.",
    body: [
      textField({
        label: "Name of that person",
        value: voucherName,
        onInput: (text) => desk.setDraft({ voucherName: text }, false),
      }),
      el("h2", { class: "group-name" }, "They are"),
      tiles(
        RELATIONS.map((relation) => ({
          says: relation,
          chosen: relation === voucherRelation,
          act: () => desk.setDraft({ voucherRelation: relation }),
        })),
        { label: "Relation" },
      ),
    ],
    main: { says: "They speak for the patient", act: () => named(v, desk) },
    row: [
      { says: "The patient can speak", act: () => desk.setDraft({ voice: null }) },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}

function named(v, desk) {
  const draft = desk.draftOf(v.visit.id);
  const name = (draft.voucherName ?? "").trim();
  if (name && draft.voucherRelation) desk.setDraft({ voucherName: name, voucherNamed: true });
}
