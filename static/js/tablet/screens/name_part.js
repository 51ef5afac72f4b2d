// One of the two names has a part more than the other: a question, asked once.

import { el } from "../parts/dom.js";
import { wordingOf } from "./finding_words.js";
import { notDrawn, spokenName, wrong } from "./common.js";

export function namePart(v, desk) {
  const words = wordingOf(v.book, "identity-mismatch", "ask");
  return {
    name: "name_part",
    sentence: words.says,
    aside: words.do_next,
    body: [
      el("p", { class: "said-name" }, spokenName(v.patient.name)),
      el("p", { class: "finding-source" }, words.source),
    ],
    main: {
      says: "Ask for the full name again",
      act: () => desk.setDraft({ retake: "heard_name", otherName: "", partialSeen: false }),
    },
    row: [
      { says: "Only a part is missing", act: () => desk.setDraft({ partialSeen: true }) },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}
