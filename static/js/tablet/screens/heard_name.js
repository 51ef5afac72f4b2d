// The name, by ear: shown only after the birth date was given unseen; another name is typed.

import { el } from "../parts/dom.js";
import { mainNow, textField, waitsFor } from "../parts/fields.js";
import { notDrawn, spokenName, wrong } from "./common.js";
import { sourceOf } from "./birth_date.js";

export function heardName(v, desk) {
  return v.draft.otherName === undefined || v.draft.otherName === null ? byEar(v, desk) : typed(v, desk);
}

function byEar(v, desk) {
  const alike = v.visit.names_alike?.length > 0;
  return {
    name: "heard_name",
    sentence: "Was this the name you heard?",
    aside: alike
      ? "Somebody on this round has a name like it. Have it spelled."
      : "First and last name, as the patient said them. Not “Are you …?”",
    body: [el("div", { class: "big" }, el("b", { class: "said-name" }, spokenName(v.patient.name)))],
    main: { says: "I heard this name", act: () => record(v, desk, { name: v.patient.name, how: "heard" }) },
    row: [{ says: "Another name", act: () => desk.setDraft({ otherName: "" }) }, notDrawn(desk), wrong(desk)],
  };
}

function typed(v, desk) {
  const name = v.draft.otherName;
  return {
    name: "heard_name",
    sentence: "Type the name as you heard it",
    aside: "Ask for it to be spelled. It is compared with the order.",
    body: [
      textField({
        label: "Name as heard",
        value: name,
        onInput: (text) => {
          desk.setDraft({ otherName: text }, false);
          mainNow(lacking(text));
        },
      }),
    ],
    main: waitsFor(lacking(name), {
      says: "That is the name I heard",
      act: () => record(v, desk, { name: desk.draftOf(v.visit.id).otherName.trim(), how: "typed" }),
    }),
    row: [{ says: "Back", act: () => desk.setDraft({ otherName: null }) }, notDrawn(desk), wrong(desk)],
  };
}

const lacking = (text) => (text.trim() ? null : "the name");

function record(v, desk, said) {
  return desk.act([{ kind: "identity_taken", data: { ...sourceOf(v), ...said } }], {
    otherName: null,
    retake: null,
  });
}
