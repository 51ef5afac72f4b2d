// How long a round may stay readable on a tablet. Pure.

/** A clock that went back further than this was set. */
export const SET_BACK_MS = 5 * 60_000;

/** No visit lasts so long past its round: then it is wiped although nobody has unlocked. Our own choice. */
export const LONG_OVER_MS = 12 * 3600_000;

/** @param {{visit: string, kind: string}[]} events @returns {boolean} whether a visit has begun and not ended */
export function isUnderWay(events) {
  const ended = new Set(events.filter(({ kind }) => kind === "visit_ended").map(({ visit }) => visit));
  return events.some(({ visit }) => !ended.has(visit));
}

/** The time a lease counts by: never earlier than a time already seen, so that setting the clock back gains nothing. */
export const leaseTime = (nowMs, seenMs) => Math.max(nowMs, seenMs ?? 0);

/** @param {string | null} until ISO; a round without an end has none */
export const hasEnded = (until, timeMs) => until !== null && Date.parse(until) <= timeMs;
