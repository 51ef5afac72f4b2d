// Not drawn: the reason first, then who was told. It can be told later; that stays visible.
// Where blood was drawn already it is labelled and bagged first, and the visit ends as partly drawn.

import { textField } from "../parts/fields.js";
import { lines, tiles } from "../parts/choices.js";
import { toldData, toldFields } from "../parts/told.js";
import { el } from "../parts/dom.js";
import { clockTime } from "../parts/when.js";
import { missedIn } from "../windows.js";
import { NOT_DRAWN, WINDOW_MISSED, endedWords } from "../words.js";
import { countOf, peopleToTell, wrong } from "./common.js";

export function notDrawnScreen(v, desk, page) {
  if (!page.outcome) return reason(v, desk);
  return leavesBlood(v, page) ? bloodFirst(v, desk, page) : whoWasTold(v, desk, page);
}

function reason(v, desk) {
  return {
    name: "not_drawn",
    sentence: "Why is it not drawn?",
    body: [
      tiles(
        [
          ...windowMissed(v, desk),
          ...NOT_DRAWN.map(([outcome, says, hint]) => ({ says, hint, act: () => desk.setPage({ outcome }) })),
        ],
        { label: "Reason" },
      ),
    ],
    main: { says: "Back: it will be drawn", look: "quiet", act: () => desk.closePage() },
    row: [wrong(desk)],
  };
}

// The second tap records it: there is nothing to add, and nobody has to be told before the next bed.
function windowMissed(v, desk) {
  const missed = missedIn(v.visit, v.houseMs, v.book);
  const isAll = missed.length > 0 && missed.length === v.visit.orders.length;
  if (!isAll || v.done.kept.length || v.done.needleIn) return [];
  const words = missedWords(v, missed);
  return [{ says: "Window missed", hint: words, look: "stop", act: () => endAsMissed(desk, words) }];
}

const missedWords = (v, missed) =>
  missed.map(({ order, window }) => `${order.name}, until ${clockTime(window.to, v.zone)}`).join("; ");

async function endAsMissed(desk, words) {
  desk.closePage(true);
  await desk.act([{ kind: "visit_ended", data: { outcome: "not_ready", reason: `${WINDOW_MISSED}: ${words}` } }]);
}

// Blood of nobody known is discarded, not finished.
const leavesBlood = (v, page) =>
  v.done.kept.length > 0 && !page.mend && !["partly", "no_identity"].includes(page.outcome);

/** Some blood is there: it is finished, whatever became of the rest. */
function bloodFirst(v, desk, page) {
  const words = endedWords(page.outcome);
  return {
    name: "not_drawn",
    sentence: `The rest: ${words}`,
    body: [
      el("p", { class: "do-next" }, `Blood is here already: ${countOf(v.done.kept)}.`),
      lines([
        v.done.needleIn ? "Tourniquet off, needle out, press." : null,
        "Mix, label and bag what is drawn.",
        "Then the visit ends as partly drawn.",
      ]),
    ],
    main: {
      says: "Finish what is drawn",
      act: () => {
        desk.closePage(true);
        desk.setDraft({ stopHere: v.done.needles.length, restOf: page.outcome, noFlow: false });
      },
    },
    row: [
      { says: "Back", act: () => desk.closePage() },
      { says: "Cannot be finished", act: () => desk.setPage({ outcome: "partly", why: `the rest: ${words}` }) },
      wrong(desk),
    ],
  };
}

function whoWasTold(v, desk, page) {
  const told = page.told ?? {};
  const change = (changes, redraw) => desk.setPage({ told: { ...topOf(desk).told, ...changes } }, redraw);
  const words = endedWords(page.outcome);
  return {
    name: "not_drawn",
    sentence: `${words[0].toUpperCase()}${words.slice(1)}. ${page.outcome === "handed_over" ? "To whom?" : "Who was told?"}`,
    aside: v.done.needleIn ? "The needle is still in. Take it out first." : null,
    body: [
      toldFields(told, change, {
        people: peopleToTell(desk),
        ...(page.outcome === "handed_over" ? { label: "Handed over to (name)" } : {}),
      }),
      textField({
        label: "In a few words, if it helps",
        value: whyOf(v, page),
        onInput: (why) => desk.setPage({ why }, false),
      }),
    ],
    main: { says: "End this visit", act: () => end(v, desk, whyOf(v, topOf(desk))) },
    row: [
      { says: "Nobody yet", act: () => end(v, desk, whyOf(v, topOf(desk))) },
      { says: "Back", act: () => desk.closePage() },
      wrong(desk),
    ],
  };
}

const topOf = (desk) => desk.place.over.at(-1) ?? {};

const whyOf = (v, page) => page.why ?? (page.outcome === "partly" ? whyTheRest(v) : "");

function whyTheRest(v) {
  if (v.draft.restOf) return `the rest: ${endedWords(v.draft.restOf)}`;
  const empty = new Set(v.done.open.flatMap((tube) => tube.tests ?? []));
  const missed = missedIn(v.visit, v.houseMs, v.book).filter(({ order }) => empty.has(order.test));
  return missed.length ? `${WINDOW_MISSED}: ${missedWords(v, missed)}` : "";
}

async function end(v, desk, why) {
  const page = topOf(desk);
  const told = toldData(page.told, desk.moment().at);
  const data = {
    outcome: page.outcome,
    ...(why.trim() ? { reason: why.trim() } : {}),
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
