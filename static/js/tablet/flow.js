// Which screen comes next at a bedside. Pure. It follows the order people work in and forbids nothing:
// whatever was recorded out of turn simply counts as done.

/**
 * @param done what progress.js says
 * @param draft the visit's half-made choices: {voice, skipLook, bare, byHand, compare, again, stopHere, …}
 * @param about {patient, tests, notChecked, mismatch, partialName: bool, inversions: tube → number,
 *   elsewhere: what another tablet did at this bed, or null, unweighed: a child that nothing may be drawn from yet}
 * @returns the name of a screen
 */
export function stepOf(done, draft, about) {
  if (done.ended) return "ended";
  if (!done.arrived) return doorStep(draft, about);
  if (done.needleIn) return draft.noFlow ? "no_flow" : "draw";
  if (about.notChecked && !done.needle) return "not_checked";
  if (draft.retake) return draft.retake;
  if (about.mismatch) return settlingStep(done, draft) ?? "identity_stop";
  if (done.needle && !done.needle.ended) return "afterwards";
  if (done.needle && isCaring(done, draft)) return careStep(done, draft, about);
  return (
    identityStep(done, draft, about) ??
    consentStep(done) ??
    questionStep(done, about) ??
    prepStep(done, draft)
  );
}

function doorStep(draft, about) {
  if (about.elsewhere && !draft.begunSeen) return "begun_elsewhere";
  return about.unweighed ? "weigh_first" : "door";
}

// Blood without its label goes before another try, and so does stopping here.
function isCaring(done, draft) {
  if (draft.stopHere === done.needles.length || done.kept.some((tube) => !tube.readRight)) return true;
  return draft.again !== done.needles.length && !done.prep.site;
}

// Two answers differed: a named person who knows the patient may still settle it.
function settlingStep(done, draft) {
  return draft.settling && !isWhole(done.vouched) ? voiceStep(done.vouched, draft) : null;
}

function voiceStep(voice, draft) {
  if (draft.voice === "vouched" && !draft.voucherNamed) return "voucher";
  return voice.birth_date ? "heard_name" : "birth_date";
}

function identityStep(done, draft, about) {
  const voice = draft.voice === "vouched" ? done.vouched : done.said;
  if (!isWhole(done.said) && !isWhole(done.vouched)) return voiceStep(voice, draft);
  if (about.partialName && !draft.partialSeen) return "name_part";
  if (done.bandMissing && draft.bandMissingSeen !== done.bandMissing.id) return "no_band";
  return done.band.record_number || done.band.birth_date ? null : "band";
}

const isWhole = (voice) => Boolean(voice.birth_date && voice.name);

function consentStep(done) {
  const answer = done.answers.consent;
  if (answer === "no" || answer === "refused") return "refused";
  return ["yes", "presumed", "by_other"].includes(answer) ? null : "consent";
}

/** The questions the packet does not answer already. @returns codes in the order they are asked */
export function questionsFor(patient, tests) {
  return [
    "arm_preference",
    "fainted_before",
    isKnown(patient.blood_thinner) ? null : "blood_thinner",
    isKnown(patient.latex_allergy) ? null : "latex",
    tests.some((test) => test.fasting) ? "fasting" : null,
  ].filter(Boolean);
}

const isKnown = (answer) => answer === true || answer === false;

function questionStep(done, about) {
  return questionsFor(about.patient, about.tests).every((question) => done.answers[question])
    ? null
    : "questions";
}

function prepStep(done, draft) {
  if (!done.prep.site) return "arms";
  const looked = done.prep.offs > 0 || draft.skipLook || done.prep.cleaned;
  if (!looked) return "look_for_vein";
  if (!done.prep.cleaned) return "clean";
  return Object.keys(done.tourniquet).length > 0 || draft.bare ? "needle" : "drying";
}

function careStep(done, draft, about) {
  return tubeStep(done, draft, about) ?? siteStep(done) ?? lastStep(done, draft);
}

function tubeStep(done, draft, about) {
  if (done.kept.some((tube) => tube.mixed < about.inversions(tube))) return "mix";
  const unread = nextToLabel(done);
  if (unread) return labelStep(unread, draft);
  return done.kept.length > 0 && !done.bandReadAfterLabels ? "band_again" : null;
}

/** The tube whose label is read back next, or undefined. */
export function nextToLabel(done) {
  return done.kept.find((tube) => !tube.readRight);
}

function labelStep(tube, draft) {
  if (draft.compare) return "compare";
  if (tube.read && draft.mismatchSeen !== tube.read.event.id) return "label_stop";
  // A label that would lose half an identifier is not laid out: it is written by hand.
  if (draft.byHand || tube.label === null) return "write_by_hand";
  return tube.printed ? "read_back" : "print";
}

function siteStep(done) {
  return done.needle.taped ? null : "site";
}

function lastStep(done, draft) {
  if (done.open.length > 0 && draft.stopHere !== done.needles.length) return "again";
  return done.kept.some((tube) => !tube.bagged) ? "bag" : "leave";
}
