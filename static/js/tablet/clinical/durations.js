// Pure: two events -> how long it lasted between them, in seconds, never negative, as both clocks tell it.

import { sharedMs } from './events.js';

const MS_PER_S = 1000;

/** The time from one event to a later one. The step to come is on the clock of the event it is compared with. */
export function between(first, last, book) {
  const oneClock = first.tablet === last.tablet || last.is_next;
  const wallMs = oneClock ? last.at_ms - first.at_ms : sharedMs(last) - sharedMs(first);
  return span(seconds(wallMs), monoS(first, last), book);
}

/** The time from an event until now, which is on that event's clock. */
export function until(first, nowMs, book) {
  return span(seconds(nowMs - first.at_ms), null, book);
}

/** Both clocks' times; `longer_s` for what must not last, `shorter_s` for what must. */
function span(wallS, monoS, book) {
  const parted = monoS !== null && Math.abs(wallS - monoS) > book.limits.clocks_part_s.value;
  const told = (whenParted) => (monoS === null ? wallS : parted ? whenParted : monoS);
  return { parted, longer_s: told(Math.max(wallS, monoS ?? 0)), shorter_s: told(Math.min(wallS, monoS ?? 0)) };
}

function monoS(first, last) {
  if (first.mono_ms === null || last.mono_ms === null) return null;
  if (first.tablet !== last.tablet || first.page !== last.page) return null;
  return seconds(last.mono_ms - first.mono_ms);
}

function seconds(ms) {
  return Math.max(ms, 0) / MS_PER_S;
}

/** A time in s as it is told: whole milliseconds. */
export function toTheMillisecond(time) {
  return time === null ? null : Math.floor(time * MS_PER_S + 0.5) / MS_PER_S;
}

/** How far the server's clock and the tablet's part, in s. */
export function skewS(event) {
  return Math.abs(event.skew_ms) / MS_PER_S;
}
