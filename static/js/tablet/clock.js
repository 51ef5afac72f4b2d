// The server's clock as seen from here. Pure: readings in, an estimate out. The tablet's own clock is never corrected.

/**
 * @typedef {object} Skew
 * @property {number} skewMs server minus tablet
 * @property {number} errorMs how far off that may be
 * @property {number} wall the tablet's clock when it was measured, ms since 1970
 */

/** A good measurement is kept this long against a worse one; then drift may have outgrown it. */
const KEEP_MS = 10 * 60_000;

/**
 * @param {number} serverMs the server's clock, somewhere between asking and answering
 * @param {number} stepMs how coarse that reading is (a Date header is cut to whole seconds: 1000)
 * @param {{wall: number, mono: number}} asked
 * @param {{wall: number, mono: number}} answered
 * @returns {Skew}
 */
export function measure(serverMs, stepMs, asked, answered) {
  const roundTrip = Math.max(0, answered.mono - asked.mono);
  const middle = answered.wall - roundTrip / 2;
  return {
    skewMs: Math.round(serverMs + stepMs / 2 - middle),
    errorMs: Math.ceil((roundTrip + stepMs) / 2),
    wall: answered.wall,
  };
}

/**
 * Chooses between what was known and a fresh measurement. Two that cannot both be true mean that a clock was set:
 * then the fresh one is right.
 * @param {Skew | null} known @param {Skew} fresh @returns {Skew}
 */
export function better(known, fresh) {
  if (!known || isContradicted(known, fresh) || isOld(known, fresh)) return fresh;
  return fresh.errorMs <= known.errorMs ? fresh : known;
}

function isContradicted(known, fresh) {
  return Math.abs(known.skewMs - fresh.skewMs) > known.errorMs + fresh.errorMs;
}

function isOld(known, fresh) {
  return Math.abs(fresh.wall - known.wall) > KEEP_MS;
}

/**
 * Reads the server's clock from an answer: its own `now`, to the millisecond, else the Date header.
 * @param {import("./wire.js").Reply} reply @returns {Skew | null}
 */
export function skewFrom(reply) {
  const exact = Date.parse(reply.json?.now ?? "");
  if (!Number.isNaN(exact)) return measure(exact, 1, reply.asked, reply.answered);
  const coarse = Date.parse(reply.date ?? "");
  return Number.isNaN(coarse) ? null : measure(coarse, 1000, reply.asked, reply.answered);
}
