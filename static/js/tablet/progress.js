// What has been done at one bedside, read from its events. Pure: no clock, no storage, no picture.
// It only serves the screens ("what comes next", "which clock runs"); whether it was right is for judge.js.

import { later } from "./parts/when.js";

/** Events in the order they count in, corrections taken in: struck ones gone, replaced data in place. */
export function effective(events) {
  const mended = latestCorrections(events);
  const told = [];
  for (const event of [...events].sort((a, b) => a.seq - b.seq)) {
    if (event.kind === "corrected") continue;
    const correction = mended.get(event.id);
    if (!correction) told.push(event);
    else if (correction.data.data !== null) told.push(mend(event, correction.data));
  }
  return placedByTime(told);
}

function latestCorrections(events) {
  const latest = new Map();
  for (const event of [...events].sort((a, b) => a.seq - b.seq)) {
    if (event.kind === "corrected") latest.set(event.data.event, event);
  }
  return latest;
}

function mend(event, correction) {
  const mended = { ...event, data: correction.data ?? event.data };
  if (!correction.at) return mended;
  return { ...mended, at: correction.at, mono_ms: null, moved: true };
}

// An event given another time goes to its place by that time; the others keep their order.
function placedByTime(events) {
  const still = events.filter((event) => !event.moved);
  for (const event of events.filter((each) => each.moved)) {
    const place = still.findIndex((other) => Date.parse(other.at) > Date.parse(event.at));
    still.splice(place < 0 ? still.length : place, 0, event);
  }
  return still;
}

/**
 * The state of one visit.
 * @param events parsed events of the visit: body keys plus id, tablet, seq
 * @param plan the visit's tubes, in the order of draw
 * @param me whose identity readings count
 */
export function progress(events, plan, me) {
  const state = begin(plan, me);
  for (const event of effective(events)) (READERS[event.kind] ?? ignore)(state, event, event.data ?? {});
  return finish(state);
}

function begin(plan, me) {
  return {
    me,
    arrived: null,
    ended: null,
    bandMissing: null,
    lastEvent: null,
    said: {},
    vouched: {},
    band: {},
    voucher: null,
    bandReadAfterLabels: false,
    answers: {},
    consentEvent: null,
    prep: freshPrep(),
    tourniquet: {},
    released: {},
    needles: [],
    needle: null,
    tubes: new Map(plan.map((tube) => [tube.id, freshTube(tube)])),
    incidents: [],
    wentAhead: [],
  };
}

const freshPrep = () => ({ site: null, offs: 0, cleaned: null, dry: null });

const freshTube = (tube) => ({
  ...tube,
  filled: null,
  volume: null,
  mixed: 0,
  printed: null,
  read: null,
  readRight: false,
  discarded: null,
  bagged: null,
});

const ignore = () => {};

const READERS = {
  arrived: (state, event) => {
    state.arrived ??= event;
  },
  identity_taken: readIdentity,
  band_missing: (state, event) => {
    state.bandMissing = event;
  },
  asked: readAnswer,
  // Another site has to be looked at and cleaned anew.
  site_chosen: (state, event, data) => {
    state.prep = { ...freshPrep(), site: { ...data, event } };
  },
  tourniquet_on: (state, event, data) => {
    state.tourniquet[data.side] ??= event;
  },
  tourniquet_off: readRelease,
  skin_cleaned: (state, event) => {
    state.prep.cleaned = event;
    state.prep.dry = null;
  },
  skin_dry: (state, event) => {
    state.prep.dry = event;
  },
  site_touched: (state) => {
    state.prep.cleaned = null;
    state.prep.dry = null;
  },
  needle_in: readNeedle,
  needle_out: readWithdrawal,
  tube_added: (state, event, data) => {
    state.tubes.set(data.tube, freshTube({ ...data, id: data.tube, added: true }));
  },
  tube_filled: (state, event, data) => fillTube(state, event, data),
  tube_mixed: (state, event, data) =>
    withTube(state, data, (tube) => {
      if (tube.filled) tube.mixed += data.inversions ?? 0;
    }),
  tube_discarded: (state, event, data) =>
    withTube(state, data, (tube) => {
      tube.discarded = event;
    }),
  tube_bagged: (state, event, data) =>
    withTube(state, data, (tube) => {
      tube.bagged = event;
    }),
  label_printed: (state, event, data) =>
    withTube(state, data, (tube) => {
      tube.printed = event;
    }),
  label_read: readLabel,
  pressure_on: (state, event) =>
    onNeedle(state, (needle) => {
      needle.pressure = event;
      needle.look = null;
    }),
  site_looked: (state, event) =>
    onNeedle(state, (needle) => {
      needle.look = event;
    }),
  taped: (state, event) =>
    onNeedle(state, (needle) => {
      needle.taped = event;
    }),
  attempt_ended: (state, event) =>
    onNeedle(state, (needle) => {
      needle.ended = event;
    }),
  incident_opened: (state, event, data) => {
    state.incidents.push({ event, kind: data.kind, noted: null });
  },
  incident_noted: readNote,
  went_ahead: (state, event) => {
    state.wentAhead.push(event);
  },
  visit_ended: (state, event) => {
    state.ended = event;
  },
};

function readIdentity(state, event, data) {
  if (event.by && state.me && event.by !== state.me) return;
  const taken = {
    name: data.name,
    birth_date: data.birth_date,
    record_number: data.record_number,
    how: data.how,
  };
  if (data.source === "band") {
    state.band = merged(state.band, taken);
    state.bandMissing = null;
    state.bandReadAfterLabels = true;
  } else if (data.source === "vouched") {
    state.vouched = merged(state.vouched, taken);
    state.voucher = data.voucher ?? state.voucher;
  } else {
    state.said = merged(state.said, taken);
  }
}

function merged(before, taken) {
  return {
    ...before,
    ...Object.fromEntries(Object.entries(taken).filter(([, value]) => value !== undefined && value !== null)),
  };
}

function readAnswer(state, event, data) {
  state.answers[data.question] = data.answer;
  if (data.question === "consent") state.consentEvent = event;
}

function readRelease(state, event, data) {
  const sides = data.side ? [data.side] : Object.keys(state.tourniquet);
  for (const side of sides) {
    if (state.tourniquet[side]) state.released[side] = { on: state.tourniquet[side], off: event };
    delete state.tourniquet[side];
  }
  if (!data.after) state.prep.offs += 1;
}

function readNeedle(state, event, data) {
  state.needle = {
    in: event,
    kind: data.kind,
    by: event.by,
    out: null,
    pressure: null,
    look: null,
    taped: null,
    ended: null,
    filled: 0,
    side: state.prep.site?.side ?? null,
  };
  state.needles.push(state.needle);
}

function readWithdrawal(state, event) {
  onNeedle(state, (needle) => {
    needle.out ??= event;
  });
  state.prep = freshPrep();
}

function fillTube(state, event, data) {
  withTube(state, data, (tube) => {
    if (!tube.filled)
      onNeedle(state, (needle) => {
        needle.filled += 1;
      });
    tube.filled ??= event;
    tube.volume = data.volume_ml ?? tube.nominal_ml ?? null;
  });
}

function readLabel(state, event, data) {
  withTube(state, data, (tube) => {
    tube.read = { event, text: data.text };
    tube.readRight = String(data.text ?? "").trim() === String(tube.specimen);
  });
  state.bandReadAfterLabels = false;
}

function readNote(state, event, data) {
  const opened =
    state.incidents.find((each) => each.event.id === data.opened) ??
    state.incidents.find((each) => !each.noted && each.kind === data.kind);
  if (opened) opened.noted = event;
  else state.incidents.push({ event, kind: data.kind, noted: event });
}

function withTube(state, data, change) {
  const tube = state.tubes.get(data.tube);
  if (tube) change(tube);
}

function onNeedle(state, change) {
  if (state.needle) change(state.needle);
}

function finish(state) {
  const tubes = inRack([...state.tubes.values()]).map((tube, index) => ({ ...tube, number: index + 1 }));
  for (const tube of tubes) tube.in_lab_by ??= tube.filled ? later(tube.filled.at, tube.in_lab_min) : null;
  const filled = tubes.filter((tube) => tube.filled && !tube.discarded);
  return {
    ...state,
    tubes,
    filled,
    open: tubes.filter((tube) => !tube.filled && !tube.discarded),
    kept: filled.filter((tube) => tube.kind !== "discard"),
    needleIn: Boolean(state.needle && !state.needle.out),
    // Pressure is owed from needle out until the tape is on a dry site.
    careOwed: Boolean(state.needle?.out && !state.needle.taped),
    unwritten: state.incidents.filter((each) => !each.noted),
    mine: state.needles.filter((needle) => !state.me || needle.by === state.me).length,
  };
}

// A tube added at the bedside stands behind the last one of its kind, else at the end.
function inRack(tubes) {
  const rack = tubes.filter((tube) => !tube.added);
  for (const tube of tubes.filter((each) => each.added)) {
    const last = rack.findLastIndex((other) => other.kind === tube.kind);
    rack.splice(last < 0 ? rack.length : last + 1, 0, tube);
  }
  return rack;
}
