// What was said or read is not what the order says: a stop across the screen, and no way past it.

import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";
import { wordingOf } from "./finding_words.js";
import { wrong } from "./common.js";

export function identityStop(v, desk) {
  const words = wordingOf(v.book, "identity-mismatch", "stop");
  const blood = v.done.kept.length > 0;
  const retry = mayAskAgain(v) ? RETRY[whichDiffers(v)] : null;
  const end = {
    says: "End the visit: not settled",
    look: "stop",
    act: () => desk.openPage("not_drawn", { outcome: "no_identity" }),
  };
  const discard = { says: "Discard the tubes, tell the nurse", look: "stop", act: () => discardAll(v, desk) };
  return {
    name: "identity_stop",
    tone: "stop",
    sentence: words.says,
    body: [
      el(
        "p",
        { class: "do-next" },
        blood ? "Blood has been drawn. No tube may leave under this name." : (retry?.why ?? words.do_next),
      ),
      blood && retry ? el("p", { class: "aside" }, retry.why) : null,
      lines(differences(v), "stop"),
      el("p", { class: "finding-source" }, words.source),
    ],
    main: retry ? { says: retry.says, act: () => askAgain(v, desk) } : blood ? discard : end,
    row: [
      ...(retry ? [{ ...(blood ? discard : end), look: "plain" }] : blood ? [] : [vouches(desk)]),
      wrong(desk),
    ],
  };
}

// A slip comes first: another patient's band, a number misread, a date misheard. Reading again is no way past: a
// second difference in a row is settled by nobody but a voucher.
const RETRY = {
  band: {
    says: "Read the band again",
    why: "Was that the band on this patient’s body? Another one may lie on the bed or in your pocket. Read theirs.",
  },
  birth_date: {
    says: "Misheard: ask once more",
    why: "Ask once more, with the same open question, and type the date as it is said.",
  },
  heard_name: {
    says: "Misheard: ask once more",
    why: "Ask for the name once more, and have it spelled.",
  },
};

const vouches = (desk) => ({
  says: "A nurse vouches",
  act: () => desk.setDraft({ voice: "vouched", voucherNamed: false, settling: true, retake: null }),
});

// Only which answer differs, never what the order says: the right one could otherwise be read out to the patient.
function differences(v) {
  const { patient, done } = v;
  const differs = (source, words) =>
    [
      source.birth_date && source.birth_date !== patient.birth_date
        ? `The birth date ${words} is not the one on the order.`
        : null,
      source.record_number && source.record_number !== patient.record_number
        ? `The record number ${words} is not the one on the order.`
        : null,
    ].filter(Boolean);
  const found = [
    ...differs(done.said, "given by the patient"),
    ...differs(done.vouched, "given by the voucher"),
    ...differs(done.band, "on the band"),
  ];
  return found.length ? found : ["The name given is not the one on the order."];
}

// The contract: after two differing values in a row of one kind only a voucher settles it.
const mayAskAgain = (v) => !againOf(v)[whichDiffers(v)];

const againOf = (v) => (typeof v.draft.askedAgain === "object" ? (v.draft.askedAgain ?? {}) : {});

function askAgain(v, desk) {
  const which = whichDiffers(v);
  desk.setDraft({
    askedAgain: { ...againOf(v), [which]: true },
    retake: v.done.kept.length && which === "band" ? "band_again" : which,
    spokenDigits: "",
    otherName: which === "heard_name" ? "" : null,
    bandTyped: false,
    bandTrouble: null,
  });
}

function whichDiffers(v) {
  const { patient, done } = v;
  const agrees = (source) =>
    (!source.birth_date || source.birth_date === patient.birth_date) &&
    (!source.record_number || source.record_number === patient.record_number);
  if (!agrees(done.band)) return "band";
  const voice = v.draft.voice === "vouched" ? done.vouched : done.said;
  return voice.birth_date && voice.birth_date !== patient.birth_date ? "birth_date" : "heard_name";
}

async function discardAll(v, desk) {
  const discards = v.done.kept.map((tube) => ({
    kind: "tube_discarded",
    data: { tube: tube.id, reason: "identity not settled" },
  }));
  const opened = { kind: "incident_opened", data: { kind: "wrong_patient" }, id: desk.newId() };
  if (await desk.save([...discards, opened], { undo: false }))
    desk.openPage("first_aid", { opened: opened.id });
}
