// Pure: a case -> what is true of the visit, replayed from its events. The twin of bedside/clinical/visit.py.
// No DOM, no storage, no clock. The order in which the events arrived does not matter.

import { isAfterwards, onceEach, readEvent, readNext } from './clinical/events.js';
import { inOrder } from './clinical/order.js';
import { isBlank, trimmed } from './clinical/spaces.js';

/** What is true once everything in the case has happened, the steps to come included. */
export function replay(book, given, ...more) {
  const nowMs = Date.parse(given.now);
  const events = onceEach((given.events ?? []).map(readEvent));
  const steps = [...(given.next == null ? [] : [given.next]), ...more].map((step) => readNext(step, nowMs));
  return replayEvents(book, given, inOrder(events, steps), nowMs);
}

function replayEvents(book, given, happened, nowMs) {
  const visit = {
    patient: given.patient,
    now_ms: nowMs,
    cancelled: given.cancelled ?? false,
    max_draw_ml: given.limits?.max_draw_ml ?? null,
    planned_needle: given.needle ?? 'straight',
    events: happened,
    tubes: containers(book, given.tubes ?? [], happened),
    tourniquets: [],
    needles: [],
    withdrawals: [],
    site: null,
    cleaned: [],
    answers: {},
    pressure_on: null,
    taped: null,
    ended: null,
  };
  for (const event of happened) HAPPENS[event.kind]?.(visit, event);
  return visit;
}

/** Every container once; what the plan says of a tube stands before what was said at the bedside. */
function containers(book, planned, happened) {
  const added = happened.filter((event) => event.kind === 'tube_added').map(({ data }) => ({ ...data, id: data.tube }));
  const known = new Map();
  for (const tube of [...planned, ...added]) {
    if (!known.has(tube.id)) known.set(tube.id, tubeState(book, tube));
  }
  return known;
}

function tubeState(book, tube) {
  return {
    id: tube.id,
    kind: tube.kind,
    specimen: tube.specimen ?? null,
    nominal_ml: tube.nominal_ml ?? book.containers[tube.kind].nominal_ml,
    tests: tube.tests ?? [],
    filled: null,
    last_fill: null,
    volume_ml: 0,
    inversions: 0,
    mixing_checks: [],
    early: [],
    reads: [],
    bagged: null,
    discarded: null,
    handed_over: null,
  };
}

/** Reports whether it holds blood for the lab: filled, not discarded, not itself a discard tube. */
export const isKept = (tube) => tube.filled !== null && tube.discarded === null && tube.kind !== 'discard';

/** Reports whether this reading of its label gave its specimen number. */
export function readsRight(tube, read) {
  const { text } = read.data;
  return !isBlank(text) && trimmed(text) === tube.specimen;
}

export const tubesOf = (visit) => [...visit.tubes.values()];

export const tourniquetsOn = (visit) => visit.tourniquets.filter((one) => one.off === null);

export const hasCrossmatch = (visit) => tubesOf(visit).some((tube) => tube.kind === 'edta-crossmatch');

/** The events of these kinds, in order. */
export const ofKind = (visit, ...kinds) => visit.events.filter((event) => kinds.includes(event.kind));

/** The last answer to a question, "unknown" when it was asked without one, null when it was not asked. */
export function answer(visit, question) {
  const asked = visit.answers[question];
  return asked === undefined ? null : (asked.data.answer ?? 'unknown');
}

/** The latest needle, in or out; before the first, one that never came in. */
function needleOf(visit) {
  if (visit.needles.length === 0) visit.needles.push(newNeedle(null, visit.planned_needle));
  return visit.needles.at(-1);
}

function newNeedle(cameIn, kind, before = {}) {
  return {
    came_in: cameIn,
    kind,
    site: null,
    consent: null,
    cleaned: [],
    waiting: [],
    fills: [],
    out: null,
    pressure_on: null,
    taped: null,
    pressed: null,
    looks: [],
    ...before,
  };
}

function tubeFilled(visit, event, tube) {
  tube.volume_ml = event.data.volume_ml ?? tube.nominal_ml;
  tube.last_fill = event;
  if (tube.filled === null) {
    tube.filled = event;
    needleOf(visit).fills.push(tube);
  }
}

function labelRead(visit, event, tube) {
  tube.reads.push(event);
  if (tube.filled === null) tube.early.push(event);
  mixingIsChecked(event, tube);
}

function mixingIsChecked(event, tube) {
  if (isKept(tube)) tube.mixing_checks.push({ event, inversions: tube.inversions });
}

function tourniquetOff(visit, event) {
  for (const one of tourniquetsOn(visit)) {
    if (event.data.side != null && one.side !== event.data.side) continue;
    one.off = event;
    const withdrawal = visit.withdrawals.at(-1);
    if (isAfterwards(event) && withdrawal) withdrawal.left_on = withdrawal.left_on.filter((left) => left !== one);
  }
}

/** What happens to the tube an event names; nothing when the tube's own announcement was struck. */
const toItsTube = (happens) => (visit, event) => {
  const tube = visit.tubes.get(event.data.tube);
  if (tube !== undefined) happens(visit, event, tube);
};

// The kinds that change what is true. The others are read by their rules from `visit.events`.
const HAPPENS = {
  asked: (visit, event) => {
    visit.answers[event.data.question] = event;
  },
  site_chosen: (visit, event) => {
    visit.site = event;
  },
  tourniquet_on: (visit, event) => {
    const side = event.data.side ?? null;
    if (tourniquetsOn(visit).every((one) => one.side !== side)) visit.tourniquets.push({ side, on: event, off: null });
  },
  tourniquet_off: tourniquetOff,
  skin_cleaned: (visit, event) => {
    visit.cleaned.push(event);
  },
  site_touched: (visit) => {
    visit.cleaned = [];
  },
  needle_in: (visit, event) => {
    visit.needles.push(
      newNeedle(event, event.data.kind ?? visit.planned_needle, {
        site: visit.site,
        consent: visit.answers.consent ?? null,
        cleaned: [...visit.cleaned],
        waiting: tubesOf(visit).filter((tube) => tube.filled === null && tube.discarded === null),
      }),
    );
  },
  needle_out: (visit, event) => {
    visit.cleaned = [];
    visit.withdrawals.push({ event, left_on: tourniquetsOn(visit) });
    needleOf(visit).out ??= event;
  },
  tube_filled: toItsTube(tubeFilled),
  tube_mixed: toItsTube((visit, event, tube) => {
    if (tube.filled !== null) tube.inversions += event.data.inversions ?? 0;
  }),
  tube_discarded: toItsTube((visit, event, tube) => {
    tube.discarded = event;
  }),
  label_printed: toItsTube((visit, event, tube) => {
    if (tube.filled === null) tube.early.push(event);
  }),
  label_read: toItsTube(labelRead),
  tube_bagged: toItsTube((visit, event, tube) => {
    tube.bagged = event;
    mixingIsChecked(event, tube);
  }),
  tube_handed_over: toItsTube((visit, event, tube) => {
    tube.handed_over = event;
  }),
  pressure_on: (visit, event) => {
    visit.pressure_on = event;
    needleOf(visit).pressure_on = event;
    visit.taped = null;
  },
  site_looked: (visit, event) => {
    needleOf(visit).looks.push(event);
  },
  taped: (visit, event) => {
    visit.taped ??= event;
    const needle = needleOf(visit);
    needle.taped = event;
    needle.pressed = needle.pressure_on;
  },
  visit_ended: (visit, event) => {
    visit.ended = event;
  },
};
