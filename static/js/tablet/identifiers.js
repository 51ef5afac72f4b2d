// The only clock and the only source of randomness on the tablet. Everything else is handed a time or an id.

/** Random for this page load: monotonic readings compare only within it. */
export const pageId = crypto.randomUUID?.() ?? "";

/** @returns {string} a new random id, made once and kept through every retry. */
export function newId() {
  return crypto.randomUUID();
}

/** @returns {number} the tablet's wall clock, ms since 1970; may be wrong by hours. */
export function wallMs() {
  return Date.now();
}

/** @returns {string} the tablet's wall clock, ISO 8601 UTC with milliseconds. */
export function now() {
  return new Date(wallMs()).toISOString();
}

/** @returns {number} ms since this page was loaded; never steps back, but may stand still while the device sleeps. */
export function monotonic() {
  return Math.round(performance.now());
}

/** @returns {number} minutes that local time is ahead of UTC. */
export function offsetMinutes() {
  return -new Date(wallMs()).getTimezoneOffset();
}

/** @returns {number} a share from 0 up to, not including, 1, for spreading retries. */
export function chance() {
  return Math.random();
}

/**
 * One instant, to be taken first thing in a tap.
 * @returns {{at: string, offset_min: number, page: string, mono_ms: number}}
 */
export function moment() {
  return { at: now(), offset_min: offsetMinutes(), page: pageId, mono_ms: monotonic() };
}

/** @param {number} count @returns {Uint8Array} fresh random bytes, for keys and nonces */
export function randomBytes(count) {
  return crypto.getRandomValues(new Uint8Array(count));
}
