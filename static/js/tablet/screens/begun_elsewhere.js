// Another tablet has been at this bed: said before the door, and asked before it is begun a second time.

import { el } from "../parts/dom.js";
import { clockTime } from "../parts/when.js";
import { endedWords } from "../words.js";
import { bedOf } from "./common.js";

export function begunElsewhere(v, desk) {
  return {
    name: "begun_elsewhere",
    tone: "stop",
    sentence: `${bedOf(v.visit).replace(/^r/, "R")}: ${elsewhereWords(desk, v.elsewhere)}`,
    body: [
      el(
        "p",
        { class: "do-next" },
        v.elsewhere.outcome
          ? "Do not draw again before you know why."
          : "Go on with the other tablet. What is recorded there is not on this one.",
      ),
    ],
    main: { says: "Back to the round", act: () => desk.leaveVisit() },
    row: [{ says: "Begin here all the same", act: () => desk.setDraft({ begunSeen: true }) }],
  };
}

/** "begun 12:22 by Ines B., on tablet Ward 5, no. 2" @param told of desk.elsewhere() */
export function elsewhereWords(desk, told) {
  const who = desk.packet.people?.[told.by]?.short;
  const where = told.tablet ? `on tablet ${told.tablet}` : "on another tablet";
  return `${standing(told)} ${clockTime(told.at, desk.packet.zone)}${who ? ` by ${who}` : ""}, ${where}`;
}

function standing(told) {
  if (told.outcome) return endedWords(told.outcome);
  return told.claimed ? "gone to" : "begun";
}
