// Only what the packet does not know, all on one screen; "nothing applies" answers the lot in one tap.

import { alternatives } from "../parts/choices.js";
import { questionsFor } from "../flow.js";
import { NOTHING, QUESTIONS } from "../words.js";
import { notDrawn, wrong } from "./common.js";

export function questions(v, desk) {
  const asked = questionsFor(v.patient, v.tests).filter((question) => !v.done.answers[question]);
  const picked = v.draft.picked ?? {};
  const any = asked.some((question) => picked[question]);
  return {
    name: "questions",
    sentence: "Ask before you choose an arm",
    body: asked.map((question) => one(question, picked, desk)),
    main: {
      says: any ? "That is all" : "Nothing applies",
      hint: any ? "what was not touched counts as nothing" : "either arm, and no to the rest",
      act: () =>
        desk.act(
          asked.map((question) => answer(question, picked)),
          { picked: {} },
        ),
    },
    row: [notDrawn(desk), wrong(desk)],
  };
}

function one(question, picked, desk) {
  const [words, options] = QUESTIONS[question];
  return alternatives(words, options, picked[question] ?? null, (value) =>
    desk.setDraft({ picked: { ...picked, [question]: value } }),
  );
}

function answer(question, picked) {
  return { kind: "asked", data: { question, answer: picked[question] ?? NOTHING[question] } };
}
