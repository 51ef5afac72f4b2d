// Only what the packet does not know, all on one screen; "nothing applies" answers the lot in one tap.

import { alternatives } from "../parts/choices.js";
import { isMinor, speaker } from "../child.js";
import { questionsFor } from "../flow.js";
import { NOTHING, NOTHING_WORDS, QUESTIONS } from "../words.js";
import { notDrawn, wrong } from "./common.js";

export function questions(v, desk) {
  const asked = questionsFor(v.patient, v.tests).filter((question) => !v.done.answers[question]);
  const picked = v.draft.picked ?? {};
  const any = asked.some((question) => picked[question]);
  return {
    name: "questions",
    sentence: sentence(v),
    aside: isMinor(v) ? "Speak to the child as well, but the answers are theirs who know." : null,
    body: asked.map((question) => one(question, picked, desk)),
    main: {
      says: any ? "That is all" : "Nothing applies",
      hint: restWords(any, untouched(asked, picked)),
      act: () =>
        desk.act(
          asked.map((question) => answer(question, picked)),
          { picked: {} },
        ),
    },
    row: [notDrawn(desk), wrong(desk)],
  };
}

// Who can know: the patient, or whoever spoke for them; a child is not asked.
function sentence(v) {
  const other = speaker(v)?.name;
  if (other) return `Ask ${other} before you choose an arm`;
  return isMinor(v) ? "Ask whoever is with the child" : "Ask before you choose an arm";
}

const restWords = (any, rest) => (any && rest ? `the rest: ${rest}` : rest);

// What one tap on the main action says: each answer by its words.
const untouched = (asked, picked) =>
  asked
    .filter((question) => !picked[question])
    .map((question) => NOTHING_WORDS[question])
    .join(", ");

function one(question, picked, desk) {
  const [words, options] = QUESTIONS[question];
  return alternatives(words, options, picked[question] ?? null, (value) =>
    desk.setDraft({ picked: { ...picked, [question]: value } }),
  );
}

function answer(question, picked) {
  return { kind: "asked", data: { question, answer: picked[question] ?? NOTHING[question] } };
}
