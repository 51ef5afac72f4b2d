// What runs at a bed, without a name: what a locked tablet goes on showing, and what can be stopped on it. Pure.

/** What must not wait for a PIN. */
const HOLDS = new Set(["needle", "tourniquet", "pressure"]);

/** @param unsettled of desk.js @returns {boolean} whether hands are full: the tablet stays open */
export const isHeld = unsettled => unsettled.some(({ owed }) => owed.some(({ code }) => HOLDS.has(code)));

/**
 * @param {object[]} clocks of desk.js @param {{visit, done} | null} stop the bed they run at, or the visit that is open
 * @param {{pressure: number}} limits seconds
 */
export function runningAt(clocks, stop, limits) {
  return {
    clocks: clocks.map(bare),
    sides: Object.keys(stop?.done.tourniquet ?? {}),
    needleIn: Boolean(stop?.done.needleIn),
    pressureS: limits?.pressure ?? null,
  };
}

/** A clock with nothing of its event but the times. */
function bare({ key, kind, says, from, limit, marks, whenOver }) {
  const { at, page, mono_ms } = from;
  return { key, kind, says, from: { at, page, mono_ms }, limit, marks, whenOver };
}

/** After the tourniquet came off on the locked tablet. */
export function released(running) {
  return { ...running, sides: [], clocks: running.clocks.filter(({ kind }) => kind !== "tourniquet") };
}

/** After the needle came out on the locked tablet: pressure runs from now. */
export function needleOut(running, now) {
  const { pressureS } = running;
  const clock = pressureS && {
    key: "pressure", kind: "pressure", says: "pressure", from: now, limit: pressureS,
    marks: [{ at: pressureS, says: `${pressureS} s`, tone: "calm" }], whenOver: "unlock, look at the site",
  };
  return { ...running, needleIn: false, clocks: [...running.clocks, clock].filter(Boolean) };
}
