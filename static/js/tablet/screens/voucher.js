// The patient cannot say it: a named person who knows the patient speaks instead.

import { mainNow, textField, waitsFor } from "../parts/fields.js";
import { tiles } from "../parts/choices.js";
import { notDrawn, peopleToTell, wrong } from "./common.js";

// ID-13: nurse, relative or friend states it, and their name is recorded (from memory)
const NURSE = "nurse on this ward";
const RELATIONS = [NURSE, "mother", "father", "relative", "friend", "carer"];
const OFFERED = 3;

export function voucher(v, desk) {
  const { voucherName = "", voucherRelation = null } = v.draft;
  return {
    name: "voucher",
    sentence: "Who knows this patient and speaks for them?",
    aside: "Their name is recorded. The band is read all the same.",
    body: [
      nurses(desk, voucherName),
      textField({
        label: "Name of that person",
        value: voucherName,
        onInput: (text) => {
          desk.setDraft({ voucherName: text }, false);
          mainNow(lacking(desk, v));
        },
      }),
      tiles(
        RELATIONS.map((relation) => ({
          says: relation,
          chosen: relation === voucherRelation,
          act: () => desk.setDraft({ voucherRelation: relation }),
        })),
        { label: "Relation" },
      ),
    ],
    main: waitsFor(lacking(desk, v), { says: "They speak for the patient", act: () => named(v, desk) }),
    row: [
      { says: "The patient can speak", act: () => desk.setDraft({ voice: null }) },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}

function nurses(desk, name) {
  const known = peopleToTell(desk).filter(({ role }) => role?.includes("nurse"));
  if (known.length === 0) return null;
  return tiles(
    known.slice(0, OFFERED).map((nurse) => ({
      says: nurse.name,
      hint: nurse.role,
      chosen: nurse.name === name,
      act: () => desk.setDraft({ voucherName: nurse.name, voucherRelation: NURSE }),
    })),
    { label: "Somebody known" },
  );
}

function lacking(desk, v) {
  const { voucherName, voucherRelation } = desk.draftOf(v.visit.id);
  const missing = [voucherName?.trim() ? null : "name", voucherRelation ? null : "who they are"];
  return missing.filter(Boolean).join(", ") || null;
}

function named(v, desk) {
  const { voucherName } = desk.draftOf(v.visit.id);
  if (!lacking(desk, v)) desk.setDraft({ voucherName: voucherName.trim(), voucherNamed: true });
}
