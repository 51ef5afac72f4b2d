// Pure: rulebook + case -> verdict. No DOM, no storage, no clock, no number and no sentence of its own.
// The twin of bedside/clinical/: one section a module, in the same order.

import { isUnderMonths } from './clinical/ages.js';
import { between, skewS, toTheMillisecond, until } from './clinical/durations.js';
import { isAfterwards } from './clinical/events.js';
import { compareNames, OTHER, PART_LEFT_OUT, SAME } from './clinical/names.js';
import { sortedBy } from './clinical/order.js';
import { isBlank, trimmed } from './clinical/spaces.js';
import { inMl, isUnderPercent, nanolitres } from './clinical/volumes.js';
import {
  answer, hasCrossmatch, isKept, ofKind, readsRight, replay, tourniquetsOn, tubesOf,
} from './visit.js';

const STOP = 'stop';
const ASK = 'ask';
const NOTE = 'note';

const RULES = [
  identity, consent, site, tourniquet, attempts, skin, tubesDrawn, labels, haemostasis, incidents, leaving,
];

// Promise one has no way past: a step taken all the same does not weaken these.
const NEVER_WEAKENED = ['identity-missing', 'identity-too-few', 'identity-mismatch', 'band-missing', 'label-mismatch'];

/** Judge one visit by one book; `given.next` counts as if it had happened. The answer has the contract's shape. */
export function judge(book, given) {
  const visit = replay(book, given);
  return {
    stage: stage(visit),
    findings: findings(visit, book),
    tourniquet_longest_s: toTheMillisecond(longestTourniquetS(visit, book)),
    pressure_s: toTheMillisecond(pressureS(visit, book)),
    volume_ml: volumeMl(visit),
    may_end: mayEnd(book, given),
  };
}

const value = (book, name) => book.limits[name].value;
const mark = (code, severity, event = null) => ({ code, severity, event });
const eventId = (found) => found.event?.id ?? null;
const isLater = (event, other) => other !== null && event.place > other.place;

// ---------------------------------------------------------------------------------------------- judge.py

/** Everything found, in the book's words: by severity, then by the book's table, then by event. */
function findings(visit, book) {
  const said = new Map();
  for (const found of sortedBy(settledMarks(visit, book), ({ severity }) => [-rank(book, severity)])) {
    said.set(JSON.stringify([found.code, eventId(found)]), finding(book, found));
  }
  const codes = Object.keys(book.findings);
  const order = ({ code, severity, event }) => [rank(book, severity), codes.indexOf(code), event === null, event ?? ''];
  return sortedBy([...said.values()], order);
}

/** A mark with the book's words; what went ahead all the same keeps the words of the stop it was. */
function finding(book, found) {
  const { source, wording } = book.findings[found.code];
  const { says, do_next } = wording[found.weakened ? STOP : found.severity] ?? Object.values(wording)[0];
  return { code: found.code, severity: found.severity, says, do_next, source, event: eventId(found) };
}

const rank = (book, severity) => book.severities.indexOf(severity);

/** What every rule found, after what went ahead all the same. */
function settledMarks(visit, book) {
  const ahead = ofKind(visit, 'went_ahead');
  const found = RULES.flatMap((rule) => [...rule(visit, book)]);
  return found.map((one) => (isCovered(one, ahead) && one.severity === STOP ? { ...one, severity: ASK, weakened: true } : one));
}

/** Reports whether the visit could end as collected now, with nothing unfinished. */
function mayEnd(book, given) {
  const visit = replay(book, given, { kind: 'visit_ended', data: { outcome: 'collected' } });
  const marks = settledMarks(visit, book);
  const ahead = ofKind(visit, 'went_ahead');
  return (
    marks.every(({ severity }) => severity !== STOP) &&
    tourniquetsOn(visit).length === 0 &&
    visit.needles.every((needle) => needleIsDone(needle, ahead)) &&
    tubesOf(visit).every((tube) => tubeIsDone(tube, goneAhead(tube, marks, ahead), book))
  );
}

/** One word for where the visit stands. */
function stage(visit) {
  if (visit.ended !== null) return 'ended';
  if (visit.needles.some((needle) => needle.came_in !== null && needle.out === null)) return 'drawing';
  if (visit.withdrawals.length > 0) return 'holding';
  return visit.events.length > 0 ? 'preparing' : 'waiting';
}

/** Out, and the last look dry (or its finding gone ahead with). */
function needleIsDone(needle, ahead) {
  if (needle.came_in === null) return true;
  const gone = ahead.some(({ data }) => ['still-bleeding', 'bleeding-not-checked'].includes(data.finding));
  return needle.out !== null && (isDry(needle) || gone);
}

/** Discarded; or filled, mixed, read back and bagged, where what went ahead counts as done. */
function tubeIsDone(tube, gone, book) {
  if (tube.kind === 'discard' || tube.discarded !== null) return true;
  const mixed = tube.inversions >= neededInversions(tube, book) || gone.has('tube-not-mixed');
  const readBack = tube.reads.length > 0 || gone.has('label-missing');
  return tube.filled !== null && mixed && readBack && tube.bagged !== null;
}

/** The codes that went ahead all the same for this tube. */
function goneAhead(tube, marks, ahead) {
  const covered = marks.filter((found) => found.event?.data.tube === tube.id && isCovered(found, ahead));
  const named = ahead.filter(({ data }) => data.tube === tube.id);
  return new Set([...covered.map(({ code }) => code), ...named.map(({ data }) => data.finding)]);
}

/** Reports whether somebody said that this happened all the same, and why. */
function isCovered(found, ahead) {
  return !NEVER_WEAKENED.includes(found.code) && ahead.some((event) => covers(event, found));
}

/** One that names an event or a tube covers that; one that names neither, all before it and the next event. */
function covers(ahead, found) {
  const { finding: code, event, tube } = ahead.data;
  if (code !== found.code) return false;
  if (event != null || tube != null) {
    const byEvent = event != null && found.event !== null && found.event.id === event;
    return byEvent || (tube != null && found.event?.data.tube === tube);
  }
  return found.event === null || found.event.place <= ahead.place + 1;
}

// ------------------------------------------------------------------------------------------- identity.py

const KINDS = ['name', 'birth_date', 'record_number'];
const ACTS = ['needle_in', 'tube_filled', 'label_read'];

/** Identity at each needle, fill and label; differences that stand; a band that is missing. */
function* identity(visit, book) {
  const proof = newProof(visit, book);
  const bandsMissing = [];
  for (const event of visit.events) {
    if (event.kind === 'identity_taken') {
      take(proof, event);
    } else if (event.kind === 'band_missing') {
      proof.no_band = event;
      bandsMissing.push(event);
    } else if (ACTS.includes(event.kind)) {
      yield* act(proof, event);
    }
  }
  yield* differences(proof);
  for (const event of bandsMissing) {
    if (event === proof.no_band || proof.acted_on.includes(event)) yield mark('band-missing', STOP, event);
  }
}

/** What has been taken so far, and by whom; what was wrong while somebody acted on it. */
function newProof(visit, book) {
  return {
    patient: visit.patient,
    book,
    crossmatch: hasCrossmatch(visit),
    answers: new Map(), // source and kind -> what was given
    agreed: new Map(), // person -> the sources and kinds that agree
    acted_on: [],
    no_band: null,
    birth_date_given: false,
  };
}

/** One reading: every kind of identifier it gives, from its source. */
function take(proof, event) {
  const { source } = event.data;
  if (!proof.agreed.has(event.by)) proof.agreed.set(event.by, new Map());
  if (source === 'band') proof.no_band = null;
  else if (event.data.birth_date != null) proof.birth_date_given = true;
  for (const kind of KINDS) {
    if (event.data[kind] != null) takeOne(proof, event, source, kind);
  }
}

function takeOne(proof, event, source, kind) {
  const key = `${source} ${kind}`;
  if (!proof.answers.has(key)) {
    proof.answers.set(key, { source, kind, stands: null, earlier: [], in_a_row: 0, partly: [], last: null });
  }
  const answers = proof.answers.get(key);
  const likeness = compareIdentifier(proof, kind, event.data[kind]);
  if (likeness === OTHER) {
    proof.agreed.get(event.by).delete(key);
    differs(answers, event);
  } else if (countsAsAgreeing(proof, event, source, kind)) {
    proof.agreed.get(event.by).set(key, { source, kind });
    agrees(answers, event);
    if (likeness === PART_LEFT_OUT) answers.partly.push(event);
    if (source === 'vouched') settle(proof, kind);
  }
}

function differs(answers, event) {
  putRight(answers);
  answers.stands = event;
  answers.in_a_row += 1;
  answers.last = event;
}

/** After two differing values in a row the same source cannot settle it any more. */
function agrees(answers, event) {
  answers.last = event;
  if (answers.in_a_row <= 1) settleAnswers(answers);
}

/** A vouched value settles what was given wrong more than once in a row. */
function settle(proof, kind) {
  for (const answers of proof.answers.values()) {
    if (answers.kind === kind && answers.in_a_row > 1) settleAnswers(answers);
  }
}

function settleAnswers(answers) {
  putRight(answers);
  answers.in_a_row = 0;
}

function putRight(answers) {
  if (answers.stands !== null) answers.earlier.push(answers.stands);
  answers.stands = null;
}

function compareIdentifier({ patient, book, crossmatch }, kind, given) {
  if (kind !== 'name') {
    return trimmed(given) === trimmed(patient[kind]) && !isBlank(given) ? SAME : OTHER;
  }
  const likeness = compareNames(given, patient.name, value(book, 'name_parts_shared_min'), book.letters);
  return likeness === PART_LEFT_OUT && crossmatch ? OTHER : likeness;
}

/** Reports whether an agreeing value may count: a voucher has a name; a name is heard after the birth date. */
function countsAsAgreeing(proof, event, source, kind) {
  if (source === 'vouched' && isBlank(event.data.voucher?.name)) return false;
  return !(kind === 'name' && event.data.how === 'heard' && !proof.birth_date_given);
}

const standing = (proof) => [...proof.answers.values()].filter(({ stands }) => stands !== null);

/** Somebody needles, fills or labels: on what has been proven so far, and by this person. */
function* act(proof, event) {
  proof.acted_on.push(...standing(proof).map(({ stands }) => stands));
  if (proof.no_band !== null) proof.acted_on.push(proof.no_band);
  if (!proof.agreed.has(event.by)) yield mark('identity-missing', STOP, event);
  else if (!isEnough(proof, event.by)) yield mark('identity-too-few', STOP, event);
}

/** Two kinds, one from the patient or a voucher, one from the band. A difference is told of by itself. */
function isEnough(proof, by) {
  const differing = standing(proof).filter(({ stands }) => stands.by === by);
  const taken = [...proof.agreed.get(by).values(), ...differing];
  const kinds = new Set(taken.map(({ kind }) => kind));
  const fromBand = taken.some(({ source }) => source === 'band');
  const fromPatient = taken.some(({ source }) => source !== 'band');
  return kinds.size >= value(proof.book, 'identity_kinds_min') && fromBand && fromPatient;
}

/** A difference that stands, or was acted on, stops; one put right before any act is a note. */
function* differences(proof) {
  for (const { stands, earlier, partly, last } of proof.answers.values()) {
    if (stands !== null) yield mark('identity-mismatch', STOP, stands);
    for (const event of earlier) {
      yield mark('identity-mismatch', proof.acted_on.includes(event) ? STOP : NOTE, event);
    }
    for (const event of partly) yield mark('identity-mismatch', event === last ? ASK : NOTE, event);
  }
}

// -------------------------------------------------------------------------------------------- consent.py

const AGREED = ['yes', 'presumed'];

/** A needle without consent; an allergy to latex that the order or the patient tells of. */
function* consent(visit) {
  for (const needle of visit.needles) {
    if (needle.came_in !== null && !hasAgreed(needle.consent)) yield mark('consent-missing', STOP, needle.came_in);
  }
  if (visit.patient.latex_allergy) yield mark('latex-allergy', NOTE);
  else if (answer(visit, 'latex') === 'yes') yield mark('latex-allergy', NOTE, visit.answers.latex);
}

/** Reports whether the last answer was a yes: the patient's, presumed, or that of another person who is named. */
function hasAgreed(asked) {
  if (asked === null) return false;
  const given = asked.data.answer;
  return AGREED.includes(given) || (given === 'by_other' && !isBlank(asked.data.who));
}

// ----------------------------------------------------------------------------------------------- site.py

/** A closed limb under a tourniquet or a needle, or chosen and not given up. */
function* site(visit) {
  let chosen = null;
  for (const event of visit.events) {
    let severity = null;
    if (event.kind === 'site_chosen') {
      chosen = event;
      if (!isGivenUp(event, visit)) severity = closed(visit.patient, event.data.side, event);
    } else if (event.kind === 'tourniquet_on') {
      severity = closed(visit.patient, event.data.side, chosen);
    } else if (event.kind === 'needle_in' && chosen !== null) {
      severity = closed(visit.patient, chosen.data.side, chosen);
    }
    if (severity !== null) yield mark('site-restricted', severity, event);
  }
}

/** How serious it is to use this side: not at all, with a question, or not without written permission. */
function closed(patient, side, chosen) {
  const here = chosen !== null && (chosen.data.side ?? null) === (side ?? null) ? chosen.data : {};
  const permissions = patient.permissions ?? [];
  if (here.place === 'foot') return permissions.includes('foot') ? null : STOP;
  const reasons = (patient.restrictions ?? []).filter((one) => one.side === side).map(({ why }) => why);
  if (reasons.length === 0 || permissions.includes(side)) return null;
  return reasons.every((why) => why === 'iv') && here.below_iv ? ASK : STOP;
}

/** Reports whether another site was chosen, or the visit ended, before a needle went in here. */
function isGivenUp(chosen, visit) {
  if (visit.needles.some((needle) => needle.site === chosen)) return false;
  return visit.site !== chosen || visit.ended !== null;
}

// ----------------------------------------------------------------------------------------- tourniquet.py

/** A tourniquet on for longer than the limit, on again too soon after that, or left on when the needle came out. */
function* tourniquet(visit, book) {
  for (const one of visit.tourniquets) {
    yield* tooLong(one, visit, book);
    yield* restShort(one, visit, book);
  }
  for (const { event, left_on } of visit.withdrawals) {
    if (left_on.length > 0) yield mark('tourniquet-left-on', STOP, event);
  }
}

/** The longest time a tourniquet was on, in s, one still on counted up to now; null if there was none. */
function longestTourniquetS(visit, book) {
  const times = visit.tourniquets.map((one) => tourniquetSpan(one, visit, book).longer_s);
  return times.length === 0 ? null : Math.max(...times);
}

function tourniquetSpan(one, visit, book) {
  if (one.off !== null) return between(one.on, one.off, book);
  const step = visit.events.at(-1);
  return step.is_next ? between(one.on, step, book) : until(one.on, visit.now_ms, book);
}

/** Exactly the limit is allowed. */
const isTooLong = (span, book) => span.longer_s > value(book, 'tourniquet_max_s');

/** A stop while it is on; once off, a question. */
function* tooLong(one, visit, book) {
  const span = tourniquetSpan(one, visit, book);
  if (one.off !== null && span.parted) yield mark('clock-off', NOTE, one.off);
  if (!isTooLong(span, book)) return;
  if (one.off === null) yield mark('tourniquet-too-long', STOP, one.on);
  else yield mark('tourniquet-too-long', isAfterwards(one.off) ? NOTE : ASK, one.off);
}

/** After a long one the same side rests; exactly the rest is enough. */
function* restShort(one, visit, book) {
  const longOff = lastLongOffBefore(one, visit, book);
  if (longOff === null) return;
  const rest = between(longOff, one.on, book);
  if (rest.parted) yield mark('clock-off', NOTE, one.on);
  if (rest.shorter_s < value(book, 'tourniquet_rest_s')) {
    yield mark('tourniquet-rest-short', isAfterwards(one.on) ? NOTE : STOP, one.on);
  }
}

/** When the last long tourniquet on this side before this one came off. */
function lastLongOffBefore(one, visit, book) {
  const long = visit.tourniquets.filter(
    (other) =>
      other.off !== null &&
      other.side === one.side &&
      other.off.place < one.on.place &&
      isTooLong(tourniquetSpan(other, visit, book), book),
  );
  return long.at(-1)?.off ?? null;
}

// ------------------------------------------------------------------------------------------- attempts.py

/** Each needle by one person beyond the limit. */
function* attempts(visit, book) {
  const tried = new Map();
  for (const event of ofKind(visit, 'needle_in')) {
    tried.set(event.by, (tried.get(event.by) ?? 0) + 1);
    if (tried.get(event.by) > value(book, 'attempts_max')) yield mark('attempts-used-up', STOP, event);
  }
}

// ----------------------------------------------------------------------------------------------- skin.py

/** Cleaning, drying and antiseptic, for each needle. */
function* skin(visit, book) {
  for (const needle of visit.needles) {
    if (needle.came_in === null) continue;
    yield* cleaning(needle, book);
    if (antisepticIsWrong(needle, visit, book)) yield mark('antiseptic-wrong', ASK, needle.came_in);
  }
}

/** The last cleaning decides how long it dries; exactly the time is enough. */
function* cleaning({ cleaned, came_in }, book) {
  if (cleaned.length === 0) {
    yield mark('skin-not-clean', ASK, came_in);
    return;
  }
  const last = cleaned.at(-1);
  const drying = between(last, came_in, book);
  if (drying.parted) yield mark('clock-off', NOTE, came_in);
  if (drying.shorter_s < dryingTimeS(last, book)) {
    yield mark('skin-not-dry', isAfterwards(came_in) ? NOTE : ASK, came_in);
  }
}

export function dryingTimeS(cleaned, book) {
  const povidone = cleaned.data.with === 'povidone_iodine';
  return value(book, povidone ? 'skin_dry_povidone_s' : 'skin_dry_s');
}

/** A blood culture: chlorhexidine last (povidone-iodine for the very young). An alcohol level: no alcohol at all. */
function antisepticIsWrong(needle, visit, book) {
  const used = needle.cleaned.map(({ data }) => data.with);
  if (needle.waiting.some(({ kind }) => kind.startsWith('culture-'))) {
    const { birth_date } = visit.patient;
    const young = isUnderMonths(birth_date, needle.came_in.at_ms, value(book, 'chlorhexidine_from_months'));
    if (used.at(-1) !== (young ? 'povidone_iodine' : 'chlorhexidine_2')) return true;
  }
  const tests = needle.waiting.flatMap((tube) => tube.tests);
  return used.includes('isopropyl_70') && tests.some((test) => isAlcoholLevel(test, book));
}

/** Reports whether a test measures alcohol, by its LOINC code or by a word in the site's own code. */
function isAlcoholLevel(test, book) {
  return book.alcohol_tests.includes(test) || book.alcohol_words.some((word) => test.toLowerCase().includes(word));
}

// ---------------------------------------------------------------------------------------- tubes_drawn.py

/** Order of draw and discard for each needle; fill and mixing of each tube; the volume of all. */
function* tubesDrawn(visit, book) {
  for (const needle of visit.needles) {
    yield* outOfOrder(needle, book);
    yield* discardMissing(needle);
  }
  for (const tube of tubesOf(visit)) {
    if (isShort(tube, book)) yield mark('tube-short-fill', ASK, tube.last_fill);
    for (const { event, inversions } of tube.mixing_checks) {
      if (inversions < neededInversions(tube, book)) yield mark('tube-not-mixed', ASK, event);
    }
  }
  yield* overLimit(visit);
  yield* afterCancel(visit);
}

/** All the blood drawn in this visit, in mL: every filled container, discards and culture bottles too. */
function volumeMl(visit) {
  return inMl(filledInOrder(visit).reduce((sum, tube) => sum + nanolitres(tube.volume_ml), 0));
}

const neededInversions = (tube, book) => book.containers[tube.kind].inversions;

const filledInOrder = (visit) => visit.needles.flatMap((needle) => needle.fills);

/** Filled after a container of a later additive group; a discard may come anywhere. */
function* outOfOrder(needle, book) {
  let latest = -1;
  for (const tube of needle.fills) {
    if (tube.kind === 'discard') continue;
    const { group } = book.containers[tube.kind];
    if (group < latest) yield mark('tube-out-of-order', ASK, tube.filled);
    latest = Math.max(latest, group);
  }
}

/** A winged set holds air; the first tube through it must not be citrate. A culture bottle clears it as well. */
function* discardMissing(needle) {
  if (needle.kind !== 'winged' || needle.came_in === null || needle.fills.length === 0) return;
  const [first] = needle.fills;
  if (first.kind === 'citrate') yield mark('discard-missing', ASK, first.filled);
}

/** Exactly the share of its nominal volume is enough. */
function isShort(tube, book) {
  if (tube.filled === null || tube.kind !== 'citrate') return false;
  return isUnderPercent(tube.volume_ml, tube.nominal_ml, value(book, 'citrate_fill_min_percent'));
}

/** Every fill that takes the visit over its limit; exactly the limit is allowed. */
function* overLimit(visit) {
  if (visit.max_draw_ml === null) return;
  let drawn = 0;
  for (const tube of filledInOrder(visit)) {
    drawn += nanolitres(tube.volume_ml);
    if (drawn > nanolitres(visit.max_draw_ml)) yield mark('volume-over-limit', STOP, tube.last_fill);
  }
}

function* afterCancel(visit) {
  const [first] = filledInOrder(visit);
  if (visit.cancelled && first !== undefined) yield mark('drawn-after-cancel', ASK, first.filled);
}

// --------------------------------------------------------------------------------------------- labels.py

/** Labels too early, wrong or missing, tube by tube; and the last comparison with the band. */
function* labels(visit) {
  for (const tube of tubesOf(visit)) {
    if (tube.kind === 'discard') continue;
    yield* tooEarly(tube);
    yield* mismatch(tube);
    if (visit.ended !== null && isKept(tube) && tube.reads.length === 0) yield mark('label-missing', STOP, tube.filled);
  }
  yield* notCompared(visit);
}

/** A label printed before the fill is noted; one already on the tube is asked about until it is read again. */
function* tooEarly(tube) {
  const readSince = tube.reads.some((read) => isLater(read, tube.filled));
  for (const event of tube.early) {
    if (event.kind === 'label_printed') yield mark('label-too-early', NOTE, event);
    else if (!readSince) yield mark('label-too-early', ASK, event);
  }
}

/** The last reading decides; a wrong one before it stays as a question. */
function* mismatch(tube) {
  for (const read of tube.reads) {
    if (readsRight(tube, read)) continue;
    const settled = read !== tube.reads.at(-1) || tube.discarded !== null;
    yield mark('label-mismatch', settled ? ASK : STOP, read);
  }
}

/** All labels are on, or the visit ends, and the band was not read after the last of them. */
function* notCompared(visit) {
  const kept = tubesOf(visit).filter(isKept);
  if (kept.length === 0 || !(visit.ended !== null || kept.every((tube) => tube.reads.length > 0))) return;
  const last = ofKind(visit, 'label_read').at(-1) ?? null;
  const bands = ofKind(visit, 'identity_taken').filter(({ data }) => data.source === 'band');
  if (!bands.some((band) => isLater(band, last))) {
    yield mark('label-not-compared', hasCrossmatch(visit) ? STOP : NOTE, last);
  }
}

// ---------------------------------------------------------------------------------------- haemostasis.py

const THINNER_ANSWERS = ['yes', 'unknown'];

/** Pressure, look and tape for each needle. */
function* haemostasis(visit, book) {
  for (const { event } of visit.withdrawals) {
    if (!(event.data.guard_on ?? false)) yield mark('needle-unguarded', ASK, event);
  }
  for (const needle of visit.needles) {
    yield* pressureShort(needle, visit, book);
    yield* notChecked(needle, visit, book);
    if (needle.looks.length > 0 && !isDry(needle)) yield mark('still-bleeding', STOP, needle.looks.at(-1));
  }
}

/** How long the last pressure was held, in s: until the tape, or until now; null if there was none. */
function pressureS(visit, book) {
  if (visit.pressure_on === null) return null;
  if (visit.taped !== null) return between(visit.pressure_on, visit.taped, book).shorter_s;
  const step = visit.events.at(-1);
  if (step.is_next && step !== visit.pressure_on) return between(visit.pressure_on, step, book).shorter_s;
  return until(visit.pressure_on, visit.now_ms, book).shorter_s;
}

/** Reports whether the last look saw no bleeding; one that does not say is not dry. */
const isDry = (needle) => needle.looks.at(-1)?.data.bleeding === false;

/** Reports whether the uncovered site was watched long enough; exactly the time is enough. */
function isWatched(needle, book) {
  return needle.looks.some(
    (look) =>
      (look.data.watched_s ?? 0) >= value(book, 'look_min_s') && (needle.out === null || isLater(look, needle.out)),
  );
}

/** Reports whether this patient needs the longer pressure: a thinner, not knowing, or an arterial puncture. */
export function needsLonger(visit, before) {
  if (visit.patient.blood_thinner || THINNER_ANSWERS.includes(answer(visit, 'blood_thinner'))) return true;
  const told = ofKind(visit, 'incident_opened', 'incident_noted');
  return told.some(({ data, place }) => data.kind === 'arterial' && place < before.place);
}

/** Taped too soon; exactly the time is enough. No pressure at all is none. */
function* pressureShort({ taped, pressed }, visit, book) {
  if (taped === null) return;
  const longer = needsLonger(visit, taped);
  const held = pressed === null ? null : between(pressed, taped, book);
  if (held?.parted) yield mark('clock-off', NOTE, taped);
  if ((held?.shorter_s ?? 0) < value(book, longer ? 'pressure_thinner_s' : 'pressure_min_s')) {
    yield mark('pressure-short', isAfterwards(taped) ? NOTE : longer ? STOP : ASK, taped);
  }
}

/** Taped, or the visit over, and nobody watched the site. */
function* notChecked(needle, visit, book) {
  if (isWatched(needle, book)) return;
  if (needle.taped !== null) yield mark('bleeding-not-checked', STOP, needle.taped);
  if (visit.ended !== null && needle.came_in !== null) yield mark('bleeding-not-checked', STOP, visit.ended);
}

// ------------------------------------------------------------------------------------------ incidents.py

/** An incident without a note when the visit ends; a note that lacks when, what was done, who was told or what. */
function* incidents(visit) {
  const opened = new Map(ofKind(visit, 'incident_opened').map((event) => [event.id, event]));
  const notes = latestNotes(visit);
  const about = new Set(notes.map(({ data }) => data.opened ?? null));
  for (const event of opened.values()) {
    if (visit.ended !== null && !about.has(event.id)) yield mark('incident-note-missing', noteSeverity(event), event);
  }
  for (const note of notes) {
    const severity = noteSeverity(note, opened.get(note.data.opened ?? null));
    if (!isComplete(note)) yield mark('incident-note-incomplete', severity, note);
  }
}

/** Reports whether a note says when, what was done, who was told, and what happened. */
export function isComplete({ data }) {
  const texts = [data.at, data.told?.name, data.note];
  return texts.every((text) => !isBlank(text)) && (data.steps ?? []).some((step) => !isBlank(step));
}

/** The last note about each opened incident, and every note that stands alone. */
export function latestNotes(visit) {
  const latest = new Map();
  for (const note of ofKind(visit, 'incident_noted')) latest.set(note.data.opened || `alone ${note.place}`, note);
  return [...latest.values()];
}

/** A needlestick is washed and reported first: its note is asked for and holds nobody back. */
function noteSeverity(event, opened) {
  return (event.data.kind ?? opened?.data.kind) === 'needlestick' ? ASK : STOP;
}

// -------------------------------------------------------------------------------------------- leaving.py

const SOMEBODY_MUST_KNOW = ['refused', 'no_vein', 'no_identity', 'restricted', 'unsafe'];

/** A draw that did not happen and nobody told; every step taken all the same; a tablet whose clock is off. */
function* leaving(visit, book) {
  for (const ended of ofKind(visit, 'visit_ended')) {
    const { outcome, told } = ended.data;
    if (SOMEBODY_MUST_KNOW.includes(outcome) && isBlank(told?.name)) yield mark('nobody-told', ASK, ended);
  }
  for (const event of ofKind(visit, 'went_ahead')) yield mark('it-happened', ASK, event);
  yield* clocksOff(visit, book);
}

/** Once a tablet: its clock and the server's part by more than the limit. */
function* clocksOff(visit, book) {
  const told = new Set();
  for (const event of visit.events) {
    if (told.has(event.tablet) || !(skewS(event) > value(book, 'clock_off_s'))) continue;
    told.add(event.tablet);
    yield mark('clock-off', NOTE, event);
  }
}
