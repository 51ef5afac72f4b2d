// Handing over at the laboratory: were they kept as they had to be, then who takes them. It is written down for each tube,
// without a network as well.

import { keptAs } from "../good_until.js";
import { el } from "../parts/dom.js";
import { mainNow, textField, waitsFor } from "../parts/fields.js";
import { alternatives, lines, tiles } from "../parts/choices.js";
import { countOf } from "./common.js";
import { keepWords } from "./lab_words.js";

export function handOver(desk, page) {
  const wanted = new Set(page.tubes ?? []);
  const going = desk.carried().filter(({ tube }) => wanted.has(tube.id));
  if (going.length === 0) return nothing(desk);
  return page.isKeptSaid ? toWhom(desk, page, going) : howKept(desk, page, going);
}

function nothing(desk) {
  return {
    name: "hand_over",
    sentence: "These are handed over",
    body: [],
    main: { says: "Back", look: "quiet", act: () => desk.closePage() },
    row: [],
  };
}

const careWords = (tube) => keepWords(tube.good?.keep) || "as usual";

/** The tubes by how they are to be kept: [[words, [{visit, tube}]]]. */
function byCare(going) {
  const groups = new Map();
  for (const each of going) {
    const words = careWords(each.tube);
    groups.set(words, [...(groups.get(words) ?? []), each]);
  }
  return [...groups];
}

// One tap says that all were kept so; what was not is touched.
function howKept(desk, page, going) {
  const notKept = page.notKept ?? [];
  const groups = byCare(going);
  return {
    name: "hand_over",
    sentence: "Were they kept so all the way?",
    aside: "Touch what was not. It is written down as it was, and the lab decides.",
    body: groups.map(([words, tubes]) => careOf(desk, words, tubes, notKept)),
    main: {
      says: notKept.length ? "Go on, written down so" : "All were kept so",
      act: () => desk.setPage({ isKeptSaid: true }),
    },
    row: [{ says: "Back", act: () => desk.closePage() }],
  };
}

const ANSWERS = [
  ["yes", "kept so"],
  ["no", "not"],
];

const whatItIs = ({ visit, tube }) => `${visit.room} ${visit.bed}: ${(tube.names ?? []).join(", ") || tube.kind}`;

function careOf(desk, words, tubes, notKept) {
  const value = notKept.includes(words) ? "no" : "yes";
  const pick = (answer) =>
    desk.setPage({ notKept: answer === "no" ? [...notKept, words] : notKept.filter((each) => each !== words) });
  return el(
    "section",
    { class: "stretch" },
    alternatives(`${words}: ${countOf(tubes.map(({ tube }) => tube))}`, ANSWERS, value, pick),
    lines(tubes.map(whatItIs), "quiet"),
  );
}

function toWhom(desk, page, going) {
  const before = desk.takenBy();
  const typed = (page.taker ?? "").trim();
  return {
    name: "hand_over",
    sentence: "Who takes them?",
    aside: `${countOf(going.map(({ tube }) => tube))}. Type the name, or scan their badge.`,
    body: [
      before.length
        ? tiles(
            before.map((name) => ({ says: name, chosen: name === typed, act: () => desk.setPage({ taker: name }) })),
            { label: "Took tubes before" },
          )
        : null,
      textField({
        label: "Name of whoever takes them",
        value: page.taker ?? "",
        onInput: (name) => named(desk, name),
      }),
    ],
    main: waitsFor(typed ? null : "a name", { says: "Handed over", act: () => hand(desk, going) }),
    row: [
      { says: "Nobody there: left at the lab", act: () => hand(desk, going, true) },
      { says: "Back", act: () => desk.setPage({ isKeptSaid: false }) },
    ],
    onScan: (text) => desk.setPage({ taker: text.trim() }),
  };
}

function named(desk, name) {
  desk.setPage({ taker: name }, false);
  mainNow(name.trim() ? null : "a name");
}

async function hand(desk, going, isNobody = false) {
  const page = desk.place.over.at(-1) ?? {};
  const name = (page.taker ?? "").trim();
  const tap = desk.moment();
  const to = isNobody ? {} : { to: { name, at: tap.at } };
  const acts = going.map((each) => handedOver(each, page.notKept ?? [], to));
  if (await desk.saveApart(acts, tap)) desk.closePage();
}

const handedOver = ({ visit, tube }, notKept, to) => ({
  visit: visit.id,
  kind: "tube_handed_over",
  data: {
    tube: tube.id,
    bag: tube.bagged?.data.bag ?? visit.id,
    kept: keptAs(tube, !notKept.includes(careWords(tube))),
    ...to,
  },
});
