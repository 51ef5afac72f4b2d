// Not drawn: the reason first, then who was told. It can be told later; that stays visible.

import { textField } from "../parts/fields.js";
import { tiles } from "../parts/choices.js";
import { toldData, toldFields } from "../parts/told.js";
import { NOT_DRAWN, endedWords } from "../words.js";
import { wrong } from "./common.js";

export function notDrawnScreen(v, desk, page) {
  return page.outcome ? whoWasTold(v, desk, page) : reason(v, desk);
}

function reason(v, desk) {
  return {
    name: "not_drawn",
    sentence: "Why is it not drawn?",
    body: [
      tiles(
        NOT_DRAWN.map(([outcome, says, hint]) => ({ says, hint, act: () => desk.setPage({ outcome }) })),
        { label: "Reason" },
      ),
    ],
    main: { says: "Back: it will be drawn", look: "quiet", act: () => desk.closePage() },
    row: [wrong(desk)],
  };
}

function whoWasTold(v, desk, page) {
  const told = page.told ?? {};
  const change = (changes, redraw) => desk.setPage({ told: { ...topOf(desk).told, ...changes } }, redraw);
  const words = endedWords(page.outcome);
  return {
    name: "not_drawn",
    sentence: `${words[0].toUpperCase()}${words.slice(1)}. Who was told?`,
    aside: v.done.needleIn ? "The needle is still in. Take it out first." : null,
    body: [
      toldFields(told, change),
      textField({
        label: "In a few words, if it helps",
        value: page.why ?? "",
        onInput: (why) => desk.setPage({ why }, false),
      }),
    ],
    main: { says: "End this visit", act: () => end(v, desk) },
    row: [
      { says: "Nobody yet", act: () => end(v, desk) },
      { says: "Back", act: () => desk.closePage() },
      wrong(desk),
    ],
  };
}

const topOf = (desk) => desk.place.over.at(-1) ?? {};

async function end(v, desk) {
  const page = topOf(desk);
  const told = toldData(page.told, desk.moment().at);
  const data = {
    outcome: page.outcome,
    ...(page.why?.trim() ? { reason: page.why.trim() } : {}),
    ...(told ? { told } : {}),
  };
  const act = page.mend
    ? {
        kind: "corrected",
        data: { event: page.mend, data: { ...v.done.ended.data, ...data }, reason: "told afterwards" },
      }
    : { kind: "visit_ended", data };
  desk.closePage(true);
  await desk.act([act], { noFlow: false });
}
