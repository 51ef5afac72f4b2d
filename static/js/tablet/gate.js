// The gate before an act: what the rules would newly say if it were done now. Pure.
// An exception in a rule means "not checked", which blocks the step; it never means "nothing found".

/** Findings no reason can get past. */
// Contract: `it-happened` does not cover these.
const NO_WAY_PAST = (code) =>
  code.startsWith("identity-") || code === "band-missing" || code === "label-mismatch";

/**
 * @param judge the twin of `bedside judge` @param book the rulebook @param situation the case without `next`
 * @param acts events about to be recorded, in order, without id and seq
 * @param isAsked which acts are judged: those that a step waits for, or all of them when a screen only wants to know
 * @returns {{stops, asks, notes, notChecked: bool}} each finding once; one about an act of this tap names it by its
 *   place in `acts`, as `act`, and has no `event` yet
 */
export function lookAhead(judge, book, situation, acts, isAsked = ({ kind }) => isGated(kind)) {
  try {
    return sorted(freshFindings(judge, book, situation, acts, isAsked));
  } catch {
    return { stops: [], asks: [], notes: [], notChecked: true };
  }
}

function freshFindings(judge, book, situation, acts, isAsked) {
  const found = new Map();
  let events = situation.events;
  acts.forEach((plain, index) => {
    const act = { ...plain, id: idOf(plain, index), tablet: "ahead", seq: index + 1 };
    if (isAsked(act)) {
      for (const finding of newWith(judge, book, { ...situation, events }, act))
        found.set(`${finding.code} ${finding.event ?? ""}`, finding);
    }
    events = [...events, act];
  });
  return [...found.values()]
    .map((finding) => ofTheTap(finding, acts))
    .filter((finding) => !isGoneAheadWith(finding, acts));
}

// What this very tap goes ahead with, and says why, is not asked about again.
function isGoneAheadWith({ code, act }, acts) {
  const id = acts[act]?.id;
  const names = ({ kind, data }) => kind === "went_ahead" && data.finding === code && data.event === id;
  return Boolean(id) && !NO_WAY_PAST(code) && acts.some(names);
}

// An act may have its id already, because another one of this tap names it.
const idOf = (act, index) => act.id ?? `ahead-${index}`;

function ofTheTap(finding, acts) {
  const act = acts.findIndex((each, place) => idOf(each, place) === finding.event);
  return act < 0 ? finding : { ...finding, event: null, act };
}

function newWith(judge, book, situation, act) {
  const before = new Set(judge(book, situation).findings.map(keyOf));
  const after = judge(book, { ...situation, next: act }).findings;
  return after.filter(
    (finding) => holds(act.kind, finding) && (!before.has(keyOf(finding)) || blocksAlways(act.kind, finding)),
  );
}

// A needle on its way out is held up by a stop alone (a tourniquet still on), and so is leaving.
const holds = (kind, finding) => !["needle_out", "visit_ended"].includes(kind) || finding.severity === "stop";

const keyOf = (finding) => `${finding.code} ${finding.event ?? ""} ${finding.severity}`;

// A note that is not complete holds the end of the visit, an identity that is not settled these acts, however long it
// has been known.
const blocksAlways = (kind, finding) =>
  (kind === "visit_ended" && finding.code.startsWith("incident-note-")) || isUnsettled(kind, finding);

const isUnsettled = (kind, finding) =>
  ["needle_in", "tube_filled", "label_read"].includes(kind) &&
  finding.severity === "stop" &&
  NO_WAY_PAST(finding.code) &&
  finding.code !== "label-mismatch";

function sorted(findings) {
  const of = (severity) => findings.filter((finding) => finding.severity === severity);
  return { stops: of("stop"), asks: of("ask"), notes: of("note"), notChecked: false };
}

/** Whether "it happened all the same" may be offered for these findings. */
export function mayGoAhead(findings) {
  return !findings.some((finding) => NO_WAY_PAST(finding.code));
}

/** Acts that make things safer, or that only report what is so already: nothing holds them up. */
const NEVER_HELD = new Set([
  "tourniquet_off",
  "pressure_on",
  "site_looked",
  "incident_opened",
  "incident_noted",
  "corrected",
  "identity_taken",
  "band_missing",
  "asked",
  "label_read",
  "tube_discarded",
  "tube_mixed",
  "arrived",
  "attempt_ended",
  "went_ahead",
  "skin_dry",
  "site_touched",
  "tube_filled",
  "tube_added",
  "skin_cleaned",
]);

/** Whether an act is asked about before it is recorded. */
export function isGated(kind) {
  return !NEVER_HELD.has(kind);
}
