// Labels, while pressure is held: print, stick, read back, compare with the hand. A wrong one is a stop.

import { el } from "../parts/dom.js";
import { afterKey, keypad } from "../parts/keypad.js";
import { labelPicture } from "../parts/label.js";
import { printLabels } from "../parts/print.js";
import { rack } from "../parts/rack.js";
import { capColour, capWords, tubePicture, wordsFor } from "../parts/tube.js";
import { labelTime } from "../parts/when.js";
import { waitsFor } from "../parts/fields.js";
import { lines } from "../parts/choices.js";
import { nextToLabel } from "../flow.js";
import { stateOf } from "./draw.js";
import { siteAct, tubePage } from "./hold.js";
import { wordingOf } from "./finding_words.js";
import { containerOf, count, noun, Numbered, numbered, wrong } from "./common.js";

const tubeWords = (v, tube) =>
  [wordsFor(containerOf(v, tube), tube), capWords(containerOf(v, tube))].filter(Boolean).join(", ");

const rackOf = (v, desk, tube) =>
  rack(v.done.tubes, v.book.containers, {
    ...tubePage(desk),
    inHand: tube?.id,
    lines: (each, container) => [capColour(container), each.id === tube?.id ? "now" : stateOf(v, each, tube)],
  });

/** What only the bedside knows: when it was really drawn, and by whom. */
export function filledIn(v, tube) {
  const who = v.packet.people?.[tube.filled?.by ?? ""] ?? {};
  return {
    time: labelTime(tube.filled?.at, v.zone),
    collector: who.initials ?? who.short ?? "",
    name: v.patient.name,
    record: v.patient.record_number,
    birth_date: v.patient.birth_date,
    tube: wordsFor(containerOf(v, tube), tube),
  };
}

export function print(v, desk) {
  const waiting = v.done.kept.filter((tube) => !tube.printed && !tube.readRight && tube.label);
  const tube = nextToLabel(v.done);
  return {
    name: "print",
    sentence:
      waiting.length > 1
        ? `Print ${count(waiting.length, "label")}`
        : `Print the label of ${numbered(tube)}`,
    aside: tube.label?.name_cut
      ? "The name is cut short on this label: compare the record number."
      : waiting.length > 1
        ? "Here, at the bedside. Stick and read back one at a time."
        : null,
    body: [rackOf(v, desk, tube), tube.label ? labelPicture(tube.label, filledIn(v, tube)) : null],
    main: {
      says: waiting.length > 1 ? `Print ${count(waiting.length, "label")}` : `Print label ${tube.number}`,
      act: () => sendToPrinter(v, desk, waiting),
    },
    row: [
      siteAct(v, desk),
      { says: "Printer is dead", act: () => desk.setDraft({ byHand: true }) },
      wrong(desk),
    ].filter(Boolean),
  };
}

/** Saved as "asked to print" first; whether paper came out only the eye can tell. */
export async function sendToPrinter(v, desk, tubes) {
  const identity = desk.ahead([
    { kind: "label_read", data: { tube: tubes[0].id, text: tubes[0].specimen, how: "typed" } },
  ]);
  if (
    identity.notChecked ||
    identity.stops.some((finding) => finding.code.startsWith("identity-") || finding.code === "band-missing")
  )
    return desk.openPage("held", { acts: [], then: null, tap: v.now, ...identity });
  const saved = await desk.save(
    tubes.map((tube) => ({ kind: "label_printed", data: { tube: tube.id } })),
    { then: { byHand: false } },
  );
  if (saved)
    printLabels(
      tubes.filter((tube) => tube.label).map((tube) => ({ layout: tube.label, filled: filledIn(v, tube) })),
    );
  return saved;
}

export function readBack(v, desk) {
  const tube = nextToLabel(v.done);
  return v.draft.labelTyped
    ? typing(v, desk, tube)
    : {
        name: "read_back",
        sentence: `Label on ${numbered(tube)}, then read it back`,
        aside: `${tubeWords(v, tube)}. Scan it: no tap is needed.`,
        body: [rackOf(v, desk, tube), tube.label ? labelPicture(tube.label, filledIn(v, tube)) : null],
        main: {
          says: "Type the specimen number",
          look: "quiet",
          act: () => desk.setDraft({ labelTyped: true, labelDigits: "" }),
        },
        row: [
          siteAct(v, desk),
          { says: `Print label ${tube.number} again`, act: () => sendToPrinter(v, desk, [tube]) },
          wrong(desk),
        ].filter(Boolean),
        onScan: (text) => heard(v, desk, text, "scanned"),
      };
}

// A specimen number's length: the contract's.
const DIGITS = 10;

function typing(v, desk, tube) {
  const digits = v.draft.labelDigits ?? "";
  return {
    name: "read_back",
    sentence: `Type the number on the label of ${numbered(tube)}`,
    body: [
      el(
        "div",
        { class: "beside-keys" },
        el("p", { class: "digits-line", data: { empty: digits ? "no" : "yes" } }, digits || "__________"),
        keypad((key) => desk.setDraft({ labelDigits: afterKey(digits, key, DIGITS) })),
      ),
    ],
    main: waitsFor(digits.length < DIGITS ? `${DIGITS - digits.length} of ${DIGITS} digits` : null, {
      says: "That is on the label",
      act: () => heard(v, desk, digits, "typed"),
    }),
    row: [
      { says: "Scan it instead", act: () => desk.setDraft({ labelTyped: false }) },
      siteAct(v, desk),
      wrong(desk),
    ].filter(Boolean),
    onScan: (text) => heard(v, desk, text, "scanned"),
  };
}

// A label of this visit is held against the hand first; one that belongs nowhere here is recorded at once, and stops.
function heard(v, desk, text, how) {
  const read = text.trim();
  const known = v.done.kept.find((tube) => tube.specimen === read);
  if (known)
    return desk.setDraft({
      compare: { tube: known.id, text: read, how },
      labelTyped: false,
      labelDigits: "",
    });
  return desk.act([{ kind: "label_read", data: { tube: nextToLabel(v.done).id, text: read, how } }], {
    labelTyped: false,
    labelDigits: "",
    compare: null,
  });
}

/** The tube whose label was read, large: cap and pattern, to be confirmed against the hand. */
export function compare(v, desk) {
  const { tube: id, text, how } = v.draft.compare;
  const tube = v.done.tubes.find((each) => each.id === id);
  const container = containerOf(v, tube);
  return {
    name: "compare",
    sentence: `Is this the ${noun(tube)} in your hand?`,
    body: [
      el(
        "div",
        { class: "big-tube" },
        tubePicture({ ...container, kind: tube.kind }, { share: 1, inHand: true }),
        el(
          "div",
          { class: "big-tube-words" },
          el("b", {}, `${tube.number} ${wordsFor(container, tube)}`),
          el(
            "span",
            {},
            [capWords(container) || "on its cap", PATTERN_WORDS[container.pattern] ?? container.pattern]
              .filter(Boolean)
              .join(", "),
          ),
          el("span", {}, v.patient.name),
          el("span", { class: "digits" }, text),
        ),
      ),
    ],
    main: {
      says: `Yes: ${capWords(container) || wordsFor(container, tube)}`,
      act: () => desk.act([{ kind: "label_read", data: { tube: id, text, how } }], { compare: null }),
    },
    row: [{ says: `No, another ${noun(tube)}`, act: () => desk.openPage("which_tube") }, wrong(desk)],
  };
}

const PATTERN_WORDS = {
  dots: "dots",
  band: "one band",
  stripes: "three stripes",
  rows: "two lines",
  slant: "slanting lines",
  "slant-band": "slanting lines and a band",
  chevrons: "arrows",
  speckle: "speckles",
  grid: "a grid",
  diamonds: "diamonds",
  ring: "one ring",
  "double-ring": "two rings",
  cross: "a cross",
  plain: "plain",
  "bottle-air": "a ring",
  "bottle-no-air": "a ring struck through",
  "bottle-small": "a dot",
};

/** The label sits on another tube than it belongs to: which one is in the hand? */
export function whichTube(v, desk) {
  const { text, how, tube: belongs } = v.draft.compare ?? {};
  const choose = async (tube) => {
    desk.closePage();
    await desk.act([{ kind: "label_read", data: { tube: tube.id, text, how } }], { compare: null });
  };
  return {
    name: "which_tube",
    sentence: "Which tube carries this label?",
    body: [
      rack(v.done.tubes, v.book.containers, {
        lines: (tube, container) => [capColour(container)],
        onTube: (tube) => tube.id !== belongs && choose(tube),
        says: (tube, container) => `${Numbered(tube)}, ${wordsFor(container, tube)}`,
      }),
    ],
    main: { says: "Back", look: "quiet", act: () => desk.closePage() },
    row: [wrong(desk)],
  };
}

/** A label that does not belong on this tube. */
export function labelStop(v, desk) {
  const tube = nextToLabel(v.done);
  const words = wordingOf(v.book, "label-mismatch", "stop");
  const elsewhere = v.done.tubes.find((each) => each.specimen === tube.read.text && each.id !== tube.id);
  return {
    name: "label_stop",
    tone: "stop",
    sentence: words.says,
    body: [
      el("p", { class: "do-next" }, words.do_next),
      lines(
        [
          elsewhere
            ? `It belongs on ${numbered(elsewhere)}, ${wordsFor(containerOf(v, elsewhere), elsewhere)}.`
            : "It belongs to no tube of this patient.",
          `${Numbered(tube)}, ${wordsFor(containerOf(v, tube), tube)}, needs the label ${tube.specimen}.`,
        ],
        "stop",
      ),
      el("p", { class: "finding-source" }, words.source),
    ],
    main: {
      says: "It is off and destroyed: print the right one",
      look: "stop",
      act: () => again(v, desk, tube),
    },
    row: [
      {
        says: `Discard ${numbered(tube)}`,
        act: () => desk.act([{ kind: "tube_discarded", data: { tube: tube.id, reason: "wrong label" } }]),
      },
      { says: "It is off: read again", act: () => desk.setDraft({ mismatchSeen: tube.read.event.id }) },
      wrong(desk),
    ],
  };
}

async function again(v, desk, tube) {
  if (await sendToPrinter(v, desk, [tube])) desk.setDraft({ mismatchSeen: tube.read.event.id });
}

/** Without a printer: everything that has to stand on the label, to be written by hand. */
export function writeByHand(v, desk) {
  const tube = nextToLabel(v.done);
  const filled = filledIn(v, tube);
  if (v.draft.labelTyped) return typing(v, desk, tube);
  return {
    name: "write_by_hand",
    sentence: `Write on ${numbered(tube)}, ${wordsFor(containerOf(v, tube), tube)}`,
    aside: "All of it, at the bedside, after the fill. Then type the number as you wrote it.",
    // LB-03: full name, number, birth date, date and time, collector (secondary source)
    body: [
      el(
        "div",
        { class: "write-out identity" },
        el("b", {}, v.patient.name),
        el("span", { class: "digits" }, `${v.patient.record_number}   born ${v.patient.birth_date}`),
        el("span", { class: "digits" }, tube.specimen),
        el("span", {}, `drawn ${filled.time} by ${filled.collector}`),
      ),
      rackOf(v, desk, tube),
    ],
    main: { says: "Written: read it back", act: () => desk.setDraft({ labelTyped: true, labelDigits: "" }) },
    row: [
      siteAct(v, desk),
      { says: "The printer works", act: () => desk.setDraft({ byHand: false }) },
      wrong(desk),
    ].filter(Boolean),
  };
}
