// Consent: asked out loud, answered by the patient, or by somebody who may answer for them.

import { isMinor, speaker } from "../child.js";
import { textField, mainNow, waitsFor } from "../parts/fields.js";
import { tiles } from "../parts/choices.js";
import { notDrawn, wrong } from "./common.js";

export function consent(v, desk) {
  if (v.draft.consentBy !== undefined && v.draft.consentBy !== null) return byOther(v, desk);
  const other = speaker(v);
  if (other?.name) return askOther(v, desk, other);
  return isMinor(v) ? byOther(v, desk) : ask(v, desk);
}

const answer = (desk, given, then = {}) =>
  desk.act([{ kind: "asked", data: { question: "consent", ...given } }], {
    consentBy: null,
    retake: null,
    ...then,
  });

const refusal = (desk) => ({ says: "Refused", act: () => answer(desk, { answer: "refused" }) });

const QUESTION = "“I would like to take blood from your arm. Is that all right?”";

function ask(v, desk) {
  return {
    name: "consent",
    sentence: QUESTION,
    aside: "A nod or a held-out arm is a yes.",
    body: [
      tiles([
        { says: "Cannot answer, does not object", act: () => answer(desk, { answer: "presumed" }) },
        { says: "Somebody else agrees for them", act: () => desk.setDraft({ consentBy: "" }) },
      ]),
    ],
    main: { says: "Yes", act: () => answer(desk, { answer: "yes" }) },
    row: [refusal(desk), notDrawn(desk), wrong(desk)],
  };
}

// Somebody spoke for the patient when identity was settled: they are asked, by their name.
function askOther(v, desk, other) {
  const who = nameAnd(other.name, other.relation);
  return {
    name: "consent",
    sentence: `Ask ${other.name}: “May blood be taken from this patient’s arm?”`,
    aside: isMinor(v)
      ? "The patient is asked too, in words they understand, and may show that they do not want it."
      : "Look for any sign that the patient does not want it.",
    body: [
      tiles([
        { says: "Another person decides for them", act: () => desk.setDraft({ consentBy: "" }) },
        ...(isMinor(v)
          ? []
          : [
              { says: "The patient agrees: nod, held-out arm", act: () => answer(desk, { answer: "yes" }) },
              { says: "Cannot answer, does not object", act: () => answer(desk, { answer: "presumed" }) },
            ]),
      ]),
    ],
    main: {
      says: `${other.name} agrees`,
      hint: other.relation ?? null,
      act: () => answer(desk, { answer: "by_other", who }),
    },
    row: [refusal(desk), notDrawn(desk), wrong(desk)],
  };
}

const nameAnd = (name, relation) => (relation ? `${name}, ${relation}` : name);

const OF_A_CHILD = ["mother", "father", "guardian", "other"];
const OF_THE_GROWN = ["spouse", "son or daughter", "guardian", "other"];

// Nobody is named yet: a minor's parent or guardian, or whoever decides for an adult.
function byOther(v, desk) {
  const minor = isMinor(v);
  const { consentBy = "", consentRelation = null } = v.draft;
  return {
    name: "consent",
    sentence: minor ? "Who agrees for this child?" : "Who agrees for the patient?",
    aside: minor
      ? `Under ${v.book.limits.consent_from_years.value} years a parent or guardian decides; the law here comes first.`
      : null,
    body: [
      textField({
        label: "Name of that person",
        value: consentBy ?? "",
        onInput: (text) => {
          desk.setDraft({ consentBy: text }, false);
          mainNow(lacking(desk, v), { says: saysOf(text) });
        },
      }),
      tiles(
        (minor ? OF_A_CHILD : OF_THE_GROWN).map((relation) => ({
          says: relation,
          chosen: relation === consentRelation,
          act: () => desk.setDraft({ consentRelation: relation }),
        })),
        { label: "Who they are to the patient" },
      ),
      minor && v.draft.voice !== "vouched"
        ? tiles([
            {
              says: "The patient may decide alone, and agrees",
              hint: "where the law here says so",
              act: () => answer(desk, { answer: "yes" }),
            },
          ])
        : null,
    ],
    main: waitsFor(lacking(desk, v), { says: saysOf(consentBy), act: () => agreed(v, desk) }),
    row: [
      minor && !speaker(v) ? notDrawn(desk) : { says: "Back", act: () => desk.setDraft({ consentBy: null }) },
      refusal(desk),
      wrong(desk),
    ],
  };
}

const saysOf = (name) => `${name?.trim() || "They"} ${name?.trim() ? "agrees" : "agree"}`;

function lacking(desk, v) {
  const { consentBy, consentRelation } = desk.draftOf(v.visit.id);
  const missing = [consentBy?.trim() ? null : "name", consentRelation ? null : "who they are to the patient"];
  return missing.filter(Boolean).join(", ") || null;
}

function agreed(v, desk) {
  if (lacking(desk, v)) return null;
  const { consentBy, consentRelation } = desk.draftOf(v.visit.id);
  return answer(desk, { answer: "by_other", who: nameAnd(consentBy.trim(), consentRelation) });
}
