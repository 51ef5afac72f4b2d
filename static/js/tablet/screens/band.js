// The band on the patient's body, scanned or typed as it is read: before the draw, and once more beside the labels.

import { el } from "../parts/dom.js";
import { afterKey, keypad } from "../parts/keypad.js";
import { dateLine, readDate } from "../parts/date_entry.js";
import { waitsFor } from "../parts/fields.js";
import { tiles } from "../parts/choices.js";
import { dayIn } from "../parts/when.js";
import { notDrawn, numbered, wrong } from "./common.js";

export function band(v, desk) {
  return v.draft.bandTyped ? typed(v, desk, FIRST) : waiting(v, desk, FIRST);
}

export function bandAgain(v, desk) {
  return v.draft.bandTyped ? typed(v, desk, AGAIN) : waiting(v, desk, AGAIN);
}

const FIRST = {
  name: "band",
  sentence: "Read the band on the patient’s body",
  aside: "On wrist or ankle. A band on the table or the bed proves nothing.",
};
const AGAIN = {
  name: "band_again",
  sentence: "Read the band once more, beside the labels",
  aside: "Hold each labelled tube next to the band while it is read.",
};

function waiting(v, desk, words) {
  return {
    ...words,
    body: [
      el(
        "div",
        { class: "waiting" },
        el("b", {}, "Scan the band now"),
        el("span", {}, "the scanner’s beep is enough, no tap is needed"),
        v.draft.bandTrouble ? el("p", { class: "trouble", role: "status" }, v.draft.bandTrouble) : null,
      ),
    ],
    main: {
      says: "Type what the band says",
      look: "quiet",
      act: () => desk.setDraft({ bandTyped: true, bandTrouble: null }),
    },
    row:
      words === FIRST
        ? [{ says: "No band", act: () => desk.act([{ kind: "band_missing" }]) }, notDrawn(desk), wrong(desk)]
        : [wrong(desk)],
    onScan: (text) => scanned(v, desk, text),
  };
}

const BAND = /^([0-9A-Za-z][0-9A-Za-z./-]{0,19})(?:\|(\d{4}-\d{2}-\d{2}))?$/;
const SPECIMEN = /^\d{10}$/;

/** What a scanned text is, if it is a band's. @returns {{record_number, birth_date?}|null} */
export function readBand(text) {
  const found = BAND.exec(text.trim());
  if (!found || (SPECIMEN.test(text.trim()) && !found[2])) return null;
  return found[2] ? { record_number: found[1], birth_date: found[2] } : { record_number: found[1] };
}

function scanned(v, desk, text) {
  const read = readBand(text);
  if (!read || isLabel(desk, text)) return desk.setDraft({ bandTrouble: notABand(v, text) });
  return desk.act([{ kind: "identity_taken", data: { source: "band", ...read, how: "scanned" } }], {
    bandTyped: false,
    bandTrouble: null,
    retake: null,
  });
}

/** Whether the packet knows this text as a specimen number: then it is a label, whatever else it looks like. */
function isLabel(desk, text) {
  const { visits = [], spares = [] } = desk.packetInUse();
  const tubes = visits.flatMap((visit) => visit.tubes);
  return [...tubes, ...spares].some(({ specimen }) => specimen === text.trim());
}

// Nothing is recorded: a label read by mistake says nothing about who this is.
function notABand(v, text) {
  const tube = v.done.tubes.find(({ specimen }) => specimen === text.trim());
  return tube
    ? `That was the label of ${numbered(tube)}, not the band. Scan the band on the patient.`
    : "That was not a band. Scan the band on the patient, or type what is on it.";
}

function typed(v, desk, words) {
  const { bandRecord = "", bandDigits = "", bandField = "record" } = v.draft;
  const { date, trouble } = readDate(bandDigits, dayIn(v.now.at, v.zone));
  const onKey = (key) =>
    desk.setDraft(
      bandField === "record"
        ? { bandRecord: afterKey(bandRecord, key, 20) }
        : { bandDigits: afterKey(bandDigits, key, 8) },
    );
  return {
    ...words,
    sentence: "Type what stands on the band",
    aside: null,
    body: [
      el(
        "div",
        { class: "beside-keys" },
        el(
          "div",
          {},
          tiles(
            [
              {
                says: "Record number",
                chosen: bandField === "record",
                act: () => desk.setDraft({ bandField: "record" }),
              },
              {
                says: "Birth date",
                chosen: bandField === "date",
                act: () => desk.setDraft({ bandField: "date" }),
              },
            ],
            { label: "Which of the two" },
          ),
          el(
            "p",
            { class: "digits-line", data: { empty: bandRecord ? "no" : "yes" } },
            bandRecord || "________",
          ),
          dateLine(bandDigits),
          el("p", { class: "trouble", role: "status" }, trouble ?? ""),
        ),
        keypad(onKey),
      ),
    ],
    main: waitsFor(
      [bandRecord ? null : "record number", date ? null : "birth date"].filter(Boolean).join(" and "),
      { says: "That is on the band", act: () => takeTyped(desk, bandRecord, date) },
    ),
    row: [
      { says: "Scan it instead", act: () => desk.setDraft({ bandTyped: false }) },
      ...(words === FIRST ? [{ says: "No band", act: () => desk.act([{ kind: "band_missing" }]) }] : []),
      wrong(desk),
    ],
    onScan: (text) => scanned(v, desk, text),
  };
}

function takeTyped(desk, record, date) {
  return desk.act(
    [
      {
        kind: "identity_taken",
        data: { source: "band", record_number: record, birth_date: date, how: "typed" },
      },
    ],
    { bandTyped: false, bandRecord: "", bandDigits: "", bandField: "record", retake: null },
  );
}
