// Pure: an event as it is written -> an event as the rules read it, with every default filled in.

/**
 * @typedef {{id: string|null, kind: string, tablet: string, seq: number, at_ms: number, skew_ms: number,
 *   page: string|null, mono_ms: number|null, by: string|null, data: Object, place: number, is_next: boolean}} Event
 */

/** One event from its body's keys together with `id`, `tablet` and `seq`. */
export function readEvent(raw) {
  return {
    id: raw.id ?? null,
    kind: raw.kind,
    tablet: raw.tablet ?? '',
    seq: raw.seq ?? 0,
    at_ms: Date.parse(raw.at),
    skew_ms: raw.server_skew_ms ?? 0,
    page: raw.page ?? null,
    mono_ms: raw.mono_ms ?? null,
    by: raw.by ?? null,
    data: raw.data ?? {},
    place: -1,
    is_next: false,
  };
}

/** The step to come: judged as if it happened now. */
export function readNext(raw, nowMs) {
  return { ...readEvent(raw), at_ms: nowMs, is_next: true };
}

/** The moment on the clock all tablets share. */
export const sharedMs = (event) => event.at_ms + event.skew_ms;

/** Reports whether the tap came later than the act. */
export const isAfterwards = (event) => event.data.after === true;

/** Each event once, by its id. */
export function onceEach(events) {
  const seen = new Set();
  return events.filter((event) => {
    if (event.id === null) return true;
    if (seen.has(event.id)) return false;
    seen.add(event.id);
    return true;
  });
}
