// Which clocks run at a bedside, and where their marks are. Pure: the reading of the clock comes in.

/**
 * Seconds from a saved event to `now`, never negative. Within one page load two clocks tell it, and they part when the
 * tablet slept or was set: the longer counts for what must not last, the shorter for what must.
 * @param now {at: ISO, page, mono_ms} @param mustNotLast a tourniquet
 */
export function secondsSince(event, now, mustNotLast = false) {
  const wall = Math.max(0, (Date.parse(now.at) - Date.parse(event.at)) / 1000) || 0;
  if (!event.page || event.page !== now.page || !Number.isFinite(event.mono_ms)) return wall;
  const mono = Math.max(0, (now.mono_ms - event.mono_ms) / 1000);
  return mustNotLast ? Math.max(wall, mono) : Math.min(wall, mono);
}

/** Seconds a running clock shows. */
export function secondsOn(clock, now) {
  return secondsSince(clock.from, now, clock.kind === "tourniquet");
}

/**
 * The clocks of a visit, most urgent first: [{key, says, from, marks: [{at, says, tone}], limit, whenOver}].
 * @param done what progress.js says @param limits seconds: {ready, tourniquet, rest, dry, pressure, look, faintWatch}
 * @param draft {watch, cameRound}: what is no event, the gauze lifted and a faint over
 */
export function runningClocks(done, limits, draft) {
  return [
    ...tourniquets(done, limits),
    ...pressure(done, limits, draft),
    ...watching(draft, limits),
    ...drying(done, limits),
    ...resting(done, limits),
    ...afterFaint(done, limits, draft),
  ];
}

/** Those that run on wherever the tablet is taken: somebody is at the other end of them. */
export const runsOnElsewhere = (clock) => ["tourniquet", "pressure", "faint"].includes(clock.kind);

function tourniquets(done, limits) {
  return Object.entries(done.tourniquet).map(([side, event]) => ({
    key: `tourniquet-${side}`,
    kind: "tourniquet",
    says: `tourniquet, ${side} arm`,
    from: event,
    limit: limits.tourniquet,
    marks: [
      { at: limits.ready, says: `${limits.ready} get ready`, tone: "act" },
      { at: limits.tourniquet, says: `${limits.tourniquet} off`, tone: "stop" },
    ],
    whenOver: "Tourniquet off now",
  }));
}

function pressure(done, limits, draft) {
  const needle = done.needle;
  if (!needle?.pressure || needle.taped || done.ended) return [];
  return [
    {
      key: "pressure",
      kind: "pressure",
      says: draft.watch ? "pressure, gauze lifted" : "pressure held",
      from: needle.pressure,
      limit: limits.pressure,
      marks: [{ at: limits.pressure, says: limits.pressureSays, tone: "calm" }],
      whenOver: "long enough: look at the site",
    },
  ];
}

function drying(done, limits) {
  const cleaned = done.prep.cleaned;
  if (!cleaned || done.prep.dry || done.needleIn) return [];
  return [
    {
      key: "drying",
      kind: "drying",
      says: "skin drying",
      from: cleaned,
      limit: limits.dry,
      marks: [{ at: limits.dry, says: `${limits.dry} dry`, tone: "calm" }],
      whenOver: "dry",
    },
  ];
}

// After a tourniquet that was on for too long the arm rests before it goes on there again.
function resting(done, limits) {
  const side = done.prep.site?.side;
  const last = done.released[side];
  if (!last || done.tourniquet[side] || done.needleIn) return [];
  if (secondsSince(last.on, last.off, true) <= limits.tourniquet) return [];
  const { rest } = limits;
  return [
    {
      key: "rest",
      kind: "rest",
      says: `${side} arm resting`,
      from: last.off,
      limit: rest,
      marks: [{ at: rest, says: minutes(rest), tone: "calm" }],
      whenOver: "rested",
    },
  ];
}

// Watching the uncovered site is no event until it is over; its start is a draft.
function watching(draft, limits) {
  if (!draft.watch) return [];
  return [
    {
      key: "watch",
      kind: "watch",
      says: "watching the site",
      from: draft.watch,
      limit: limits.look,
      marks: [{ at: limits.look, says: `${limits.look} s`, tone: "calm" }],
      whenOver: "say what you see",
    },
  ];
}

// It counts from when they have come round; until somebody says so, from the faint, and is over for nobody.
function afterFaint(done, limits, draft) {
  const faint = faintOf(done);
  if (!faint || !limits.faintWatch || done.ended) return [];
  const { cameRound } = draft;
  return [
    {
      key: `faint-${cameRound ? "round" : "out"}`,
      kind: "faint",
      says: cameRound ? "staying since they came round" : "fainted, not come round yet",
      from: cameRound ?? faint.event,
      limit: limits.faintWatch,
      marks: [{ at: limits.faintWatch, says: minutes(limits.faintWatch), tone: cameRound ? "calm" : "stop" }],
      whenOver: cameRound ? "long enough" : "call for help",
    },
  ];
}

/** The faint somebody stays for, or null. */
export function faintOf(done) {
  return done.incidents.filter((each) => each.kind === "faint").at(-1) ?? null;
}

const minutes = (seconds) => `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;

/** The tone of the last mark reached, else calm. Exactly at its limit a tourniquet is still allowed. */
export function toneAt(clock, seconds) {
  const over =
    clock.kind === "tourniquet"
      ? (mark) => (mark.tone === "stop" ? seconds > mark.at : seconds >= mark.at)
      : (mark) => seconds >= mark.at;
  const reached = clock.marks.filter(over);
  return reached.length ? reached[reached.length - 1].tone : "calm";
}
