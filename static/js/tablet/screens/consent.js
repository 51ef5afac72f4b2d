// Consent: asked out loud, answered by the patient or by somebody who may.

import { el } from "../parts/dom.js";
import { textField } from "../parts/fields.js";
import { notDrawn, wrong } from "./common.js";

export function consent(v, desk) {
  return v.draft.consentBy === undefined || v.draft.consentBy === null ? ask(v, desk) : byOther(v, desk);
}

const answer = (desk, given, then = null) =>
  desk.act([{ kind: "asked", data: { question: "consent", ...given } }], then);

function ask(v, desk) {
  const spoken = v.draft.voice !== "vouched";
  return {
    name: "consent",
    sentence: "“I would like to take blood from your arm. Is that all right?”",
    aside: spoken
      ? "A nod or a held-out arm is a yes."
      : "The patient cannot answer: look for any sign of refusal.",
    body: [
      el("div", { class: "tiles" }, [
        tile("Cannot answer, does not object", () => answer(desk, { answer: "presumed" })),
        tile("Somebody else agrees for them", () => desk.setDraft({ consentBy: "" })),
      ]),
    ],
    main: { says: "Yes", act: () => answer(desk, { answer: "yes" }) },
    row: [{ says: "Refused", act: () => answer(desk, { answer: "refused" }) }, notDrawn(desk), wrong(desk)],
  };
}

const tile = (says, act) =>
  el("button", { class: "tile", type: "button", onclick: act, data: { rank: "row" } }, el("b", {}, says));

function byOther(v, desk) {
  return {
    name: "consent",
    sentence: "Who agrees for the patient?",
    body: [
      textField({
        label: "Name, and who they are to the patient",
        value: v.draft.consentBy,
        onInput: (text) => desk.setDraft({ consentBy: text }, false),
      }),
    ],
    main: { says: "They agree", act: () => agreed(v, desk) },
    row: [
      { says: "Back", act: () => desk.setDraft({ consentBy: null }) },
      { says: "Refused", act: () => answer(desk, { answer: "refused" }, { consentBy: null }) },
      wrong(desk),
    ],
  };
}

function agreed(v, desk) {
  const who = (desk.draftOf(v.visit.id).consentBy ?? "").trim();
  if (who) answer(desk, { answer: "by_other", who }, { consentBy: null });
}
