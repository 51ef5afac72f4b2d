// What has been done at one bedside, as the screens ask for it. Pure: no clock, no storage, no picture.
// What counts, in which order and after which corrections is said by visit.js, as for the judge; here it is only put in
// the screens' words, with the few things no rule asks about (a door, a print, a skin said to be dry).

import { isAfterwards } from "./clinical/events.js";
import { isComplete, latestNotes } from "./judge.js";
import { later } from "./parts/when.js";
import { answer, isKept, ofKind, readsRight, replay, tourniquetsOn } from "./visit.js";

/**
 * The state of one visit.
 * @param events parsed events of the visit: body keys plus id, tablet, seq
 * @param visit as the packet carries it
 * @param me whose identity readings count
 * @param book the rulebook
 */
export function progress(events, visit, me, book) {
  const { patient, needle, tubes: plan } = visit;
  const facts = replay(book, { patient, needle, tubes: plan, events });
  const told = teller(events);
  const needles = needlesIn(facts, told);
  const incidents = incidentsIn(facts, told);
  const tubes = tubesIn(facts, plan, told);
  return {
    me,
    facts,
    arrived: told(ofKind(facts, "arrived")[0]),
    ended: told(facts.ended),
    ...identityIn(facts, told, me),
    answers: Object.fromEntries(Object.keys(facts.answers).map((question) => [question, answer(facts, question)])),
    prep: preparedIn(facts, told),
    tourniquet: Object.fromEntries(tourniquetsOn(facts).map((one) => [one.side, told(one.on)])),
    released: releasedIn(facts, told),
    needles,
    needle: needles.at(-1) ?? null,
    incidents,
    unwritten: incidents.filter((each) => each.isOpen),
    ...rackIn(tubes, book),
    ...bodyIn(needles.at(-1)),
    mine: needles.filter((each) => !me || each.by === me).length,
  };
}

const placeOf = (event) => event?.place ?? -1;
const isAfter = (event, other) => placeOf(event) > placeOf(other);

/** An event of visit.js as it was saved, with what its correction changed; null for none. */
function teller(events) {
  const saved = new Map(events.map((event) => [event.id, event]));
  return (event) => {
    if (!event) return null;
    const raw = saved.get(event.id);
    const isMoved = Date.parse(raw.at) !== event.at_ms;
    const at = isMoved ? new Date(event.at_ms).toISOString() : raw.at;
    return { ...raw, data: event.data, at, mono_ms: event.mono_ms };
  };
}

// ---- identity

function identityIn(facts, told, me) {
  const readings = ofKind(facts, "identity_taken");
  const mine = readings.filter((event) => !event.by || !me || event.by === me);
  const of = (source) => mergedOf(mine.filter((event) => sourceOf(event) === source));
  const bands = readings.filter((event) => sourceOf(event) === "band");
  const missing = ofKind(facts, "band_missing").at(-1);
  const lastRead = ofKind(facts, "label_read").at(-1);
  return {
    said: of("spoken"),
    vouched: of("vouched"),
    band: of("band"),
    bandMissing: missing && !isAfter(bands.at(-1), missing) ? told(missing) : null,
    bandReadAfterLabels: Boolean(lastRead) && isAfter(bands.at(-1), lastRead),
  };
}

const sourceOf = ({ data }) => (["band", "vouched"].includes(data.source) ? data.source : "spoken");

// The last value of each kind counts.
function mergedOf(readings) {
  const given = readings.flatMap(({ data: { name, birth_date, record_number, how } }) =>
    Object.entries({ name, birth_date, record_number, how }),
  );
  return Object.fromEntries(given.filter(([, value]) => value !== undefined && value !== null));
}

// ---- the arm

// Another site has to be looked at and cleaned anew, and so has any once a needle came out.
function preparedIn(facts, told) {
  const lastOut = ofKind(facts, "needle_out").at(-1);
  const site = isAfter(facts.site, lastOut) ? facts.site : null;
  const begin = site ?? lastOut;
  const offs = ofKind(facts, "tourniquet_off").filter((event) => isAfter(event, begin) && !isAfterwards(event));
  const cleaned = facts.cleaned.filter((event) => isAfter(event, begin)).at(-1);
  const dry = ofKind(facts, "skin_dry").at(-1);
  return {
    site: site && { ...site.data, event: told(site) },
    offs: offs.length,
    cleaned: told(cleaned),
    dry: cleaned && isAfter(dry, cleaned) ? told(dry) : null,
  };
}

function releasedIn(facts, told) {
  const off = facts.tourniquets.filter((one) => one.off !== null);
  return Object.fromEntries(off.map((one) => [one.side, { on: told(one.on), off: told(one.off) }]));
}

// ---- the needle

function needlesIn(facts, told) {
  const needles = facts.needles.filter(({ came_in: cameIn }) => cameIn !== null);
  return needles.map((needle, index) => needleIn(facts, told, needle, needles[index + 1]));
}

// Pressed again: what was seen or taped before that does not count any more.
function needleIn(facts, told, needle, next) {
  const isItsOwn = (event) => isAfter(event, needle.came_in) && !(next && isAfter(event, next.came_in));
  const sincePressed = (event) => (event && !isAfter(needle.pressure_on, event) ? told(event) : null);
  return {
    in: told(needle.came_in),
    kind: needle.kind,
    by: needle.came_in.by,
    out: told(needle.out),
    pressure: told(needle.pressure_on),
    look: sincePressed(needle.looks.at(-1)),
    bled: needle.looks.length > 0 && needle.looks.at(-1).data.bleeding !== false,
    taped: sincePressed(needle.taped),
    ended: told(ofKind(facts, "attempt_ended").filter(isItsOwn).at(-1)),
    filled: needle.fills.length,
    side: needle.site?.data.side ?? null,
  };
}

// Pressure is owed from needle out until the tape is on a dry site.
const bodyIn = (needle) => ({
  needleIn: Boolean(needle && !needle.out),
  careOwed: Boolean(needle?.out && !needle.taped),
});

// ---- tubes

function tubesIn(facts, plan, told) {
  const added = ofKind(facts, "tube_added").map(({ data }) => ({ ...data, id: data.tube, added: true }));
  const known = new Map([...added.reverse(), ...plan].map((tube) => [tube.id, tube]));
  const printed = new Map(ofKind(facts, "label_printed").map((event) => [event.data.tube, event]));
  return [...facts.tubes.values()].map((state) => {
    const read = state.reads.at(-1);
    return {
      ...careOf(state, plan),
      ...known.get(state.id),
      nominal_ml: state.nominal_ml,
      filled: told(state.filled),
      volume: state.filled ? state.volume_ml : null,
      mixed: state.inversions,
      printed: told(printed.get(state.id)),
      read: read ? { event: told(read), text: read.data.text } : null,
      readRight: Boolean(read) && readsRight(state, read),
      discarded: told(state.discarded),
      bagged: told(state.bagged),
      handedOver: told(state.handed_over),
      isKept: isKept(state),
    };
  });
}

// A spare is kept as the tube it stands for, which is of its kind.
function careOf({ kind }, plan) {
  const { good = null, handling = [], in_lab_min: minutes = null } = plan.find((tube) => tube.kind === kind) ?? {};
  return { good, handling, in_lab_min: minutes };
}

function rackIn(unordered, book) {
  const tubes = inRack(unordered, book).map((tube, index) => ({ ...tube, number: index + 1 }));
  for (const tube of tubes) tube.in_lab_by ??= tube.filled ? later(tube.filled.at, tube.in_lab_min) : null;
  return {
    tubes,
    open: tubes.filter((tube) => !tube.filled && !tube.discarded),
    kept: tubes.filter((tube) => tube.isKept),
  };
}

// A tube added at the bedside stands behind the last one of its kind, or of a kind that is drawn before it.
function inRack(tubes, book) {
  const kinds = Object.keys(book.containers);
  const place = ({ kind }) => kinds.indexOf(kind);
  const rack = tubes.filter((tube) => !tube.added);
  for (const tube of tubes.filter((each) => each.added)) {
    const last = rack.findLastIndex((other) => place(other) <= place(tube));
    rack.splice(last + 1, 0, tube);
  }
  return rack;
}

// ---- incidents

/** Every incident with the last note about it: open until that note is complete, as the judge takes it. */
function incidentsIn(facts, told) {
  const opened = ofKind(facts, "incident_opened");
  const notes = latestNotes(facts);
  const known = new Set(opened.map(({ id }) => id));
  const noteOf = (event) => notes.find((note) => note.data.opened === event.id) ?? null;
  return [
    ...opened.map((event) => incident(event, noteOf(event), told)),
    ...notes.filter((note) => !known.has(note.data.opened)).map((note) => incident(note, note, told)),
  ];
}

const incident = (event, note, told) => ({
  event: told(event),
  kind: event.data.kind,
  note: told(note),
  isOpen: note === null || !isComplete(note),
});
