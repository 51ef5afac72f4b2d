// What was said or read is not what the order says: a stop across the screen, and no way past it.

import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";
import { wordingOf } from "./finding_words.js";
import { wrong } from "./common.js";

export function identityStop(v, desk) {
  const words = wordingOf(v.book, "identity-mismatch", "stop");
  const blood = v.done.kept.length > 0;
  return {
    name: "identity_stop",
    tone: "stop",
    sentence: words.says,
    body: [
      el(
        "p",
        { class: "do-next" },
        blood ? "Blood has been drawn. No tube may leave under this name." : words.do_next,
      ),
      lines(differences(v), "stop"),
      el("p", { class: "finding-source" }, words.source),
    ],
    main: blood
      ? { says: "Discard the tubes, tell the nurse", look: "stop", act: () => discardAll(v, desk) }
      : {
          says: "End the visit: not settled",
          look: "stop",
          act: () => desk.openPage("not_drawn", { outcome: "no_identity" }),
        },
    row: [
      ...(mayAskAgain(v)
        ? [{ says: "Misheard: ask once more", act: () => askAgain(v, desk) }]
        : [
            {
              says: "A nurse vouches",
              act: () =>
                desk.setDraft({ voice: "vouched", voucherNamed: false, settling: true, retake: null }),
            },
          ]),
      wrong(desk),
    ],
  };
}

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

// The contract: after two differing values in a row only a voucher settles it.
function mayAskAgain(v) {
  return (v.draft.askedAgain ?? 0) < 1;
}

function askAgain(v, desk) {
  desk.setDraft({
    askedAgain: (v.draft.askedAgain ?? 0) + 1,
    retake: whichDiffers(v),
    spokenDigits: "",
    otherName: "",
    bandTyped: false,
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
