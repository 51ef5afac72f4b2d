// Something at this bed must not be left alone, and somebody wants to go, or to end the visit: first the ways to finish,
// then who takes over, by name; only then "all the same". Leaving without it stays in red on the round.

import { secondsSince } from "../clocks.js";
import { tiles } from "../parts/choices.js";
import { toldData, toldFields } from "../parts/told.js";
import { spanText } from "../parts/when.js";
import { needsAHand } from "../owed.js";
import { bedOf, countOf, numbered, peopleToTell, wrong } from "./common.js";

export function unfinished(v, desk, page) {
  if (page.naming) return whoTakesOver(v, desk, page);
  if (v.owed.length === 0) return nothingLeft(v, desk, page);
  const [first] = v.owed;
  return {
    name: "unfinished",
    tone: "stop",
    sentence: `Not yet: ${v.owed.map(({ says }) => says).join(", ")}`,
    aside: `${bedOf(v.visit).replace(/^r/, "R")}. ${whoHasIt(v)}`,
    body: [
      tiles([...v.owed.flatMap((one) => WAYS[one.code](v, desk, one)), ...takeOver(v, desk)], {
        wide: true,
        label: "Ways to finish",
      }),
    ],
    main: { says: "Stay, and finish it", act: () => finish(desk, first) },
    row: [page.ending ? endAllTheSame(v, desk, page) : leaveAllTheSame(desk), wrong(desk)].filter(Boolean),
  };
}

const whoHasIt = ({ draft: { takesOver } }) =>
  takesOver ? `${takesOver.name}, ${takesOver.role}, takes over here.` : "One tap leads to each thing left to do.";

function finish(desk, { code }) {
  desk.closePage(true);
  if (code === "pressure") desk.openPage("site");
}

// What is to be done about each, safest first.
const WAYS = {
  needle: (v, desk) => [
    { says: "Needle out", hint: "back to the draw", look: "stop", act: () => desk.closePage(true) },
  ],
  tourniquet: (v, desk, { side }) => [
    {
      says: "Tourniquet off",
      hint: `${side} arm`,
      look: "stop",
      act: () => desk.act([{ kind: "tourniquet_off", data: { side } }]),
    },
  ],
  pressure: (v, desk) => [
    {
      says: "Hold, look at the site, tape it",
      hint: `in all ${v.limits.pressureSays}`,
      look: "stop",
      act: () => finish(desk, { code: "pressure" }),
    },
  ],
  watch: (v, desk) =>
    v.draft.cameRound
      ? [
          {
            says: "Stay with the patient",
            hint: `${spanText(v.limits.faintWatch - secondsSince(v.draft.cameRound, v.now))} still to go`,
            look: "stop",
            act: () => desk.closePage(true),
          },
        ]
      : [cameRound(desk)],
  labels: (v, desk, { tubes }) => [
    {
      says: `Label ${tubes.length === 1 ? numbered(tubes[0]) : countOf(tubes)} now`,
      hint: "here, at the bedside",
      look: "stop",
      act: () => desk.closePage(true),
    },
    {
      says: `Discard ${tubes.length === 1 ? numbered(tubes[0]) : `these ${countOf(tubes)}`}`,
      hint: "its blood still counts; it has to be drawn again",
      act: () =>
        desk.act(
          tubes.map((tube) => ({ kind: "tube_discarded", data: { tube: tube.id, reason: "not labelled at the bedside" } })),
        ),
    },
  ],
};

/** From now on the watch after a faint counts. */
export const cameRound = (desk) => ({
  says: "Awake again",
  hint: "the watch begins now",
  act: () => desk.setDraft({ cameRound: desk.moment() }),
});

function takeOver(v, desk) {
  if (!needsAHand(v.owed) || v.draft.takesOver) return [];
  return [
    {
      says: "Somebody takes over at the bed",
      hint: "name and role; they hold, look and stay",
      act: () => desk.setPage({ naming: true }),
    },
  ];
}

function whoTakesOver(v, desk, page) {
  const named = toldData(page.told, desk.moment().at);
  const known = Boolean(named?.role);
  return {
    name: "unfinished",
    sentence: "Who takes over here?",
    aside: `They are at the bed and know: ${v.owed.map(({ says }) => says).join(", ")}.`,
    body: [
      toldFields(
        page.told ?? {},
        (changes, redraw) => desk.setPage({ told: { ...desk.place.over.at(-1).told, ...changes } }, redraw),
        { people: peopleToTell(desk), label: "Who takes over (name)" },
      ),
    ],
    main: {
      says: "They take over",
      hint: known ? null : "a name and a role",
      look: known ? "act" : "quiet",
      act: () => takesOver(desk),
    },
    row: [{ says: "Back", act: () => desk.setPage({ naming: false }) }, wrong(desk)],
  };
}

function takesOver(desk) {
  const named = toldData(desk.place.over.at(-1).told, desk.moment().at);
  if (!named?.role) return;
  desk.setPage({ naming: false }, false);
  desk.setDraft({ takesOver: named });
}

const leaveAllTheSame = (desk) => ({ says: "Leave all the same", act: () => desk.leaveAllTheSame() });

// A hand at the bed is either ours or that of somebody named.
function endAllTheSame(v, desk, page) {
  const { takesOver: named } = v.draft;
  if (needsAHand(v.owed) && !named) return null;
  const { acts, then } = page.ending;
  return { says: "End it all the same", act: () => desk.act(acts, then, { faced: true }) };
}

function nothingLeft(v, desk, page) {
  return {
    name: "unfinished",
    sentence: v.draft.takesOver ? `${v.draft.takesOver.name} takes over` : "Nothing is left open here",
    aside: v.draft.takesOver ? `${v.draft.takesOver.role}. It is recorded with the end of the visit.` : null,
    body: [],
    main: page.ending
      ? { says: "End the visit", act: () => end(desk, page) }
      : { says: "To the round", act: () => desk.leaveVisit() },
    row: [{ says: "Back to the bed", act: () => desk.closePage(true) }, wrong(desk)],
  };
}

async function end(desk, page) {
  desk.closePage(true);
  await desk.act(page.ending.acts, page.ending.then);
}
