// When an unattended tablet locks. Pure.

/** Seconds without a touch. Sources: OWASP Session Management, 2 to 5 minutes for what matters; WCAG 2.2, 2.2.1. */
export const LOCK_AFTER_S = 120;
/** While a tourniquet, a needle or pressure runs: our own choice (trust.md, contract with section 3). */
export const HELD_OPEN_S = 600;
export const WARN_S = 20;

/** @returns {number} seconds until it locks, 0 or less: now. @param {number} idleS @param {boolean} isHeld */
export const secondsLeft = (idleS, isHeld) => (isHeld ? HELD_OPEN_S : LOCK_AFTER_S) - idleS;

/** The longer of the two clocks: the monotonic one may stand still while the device sleeps. */
export function idleSeconds(touched, now) {
  const wall = (Date.parse(now.at) - Date.parse(touched.at)) / 1000;
  return Math.max(0, wall, (now.mono_ms - touched.mono_ms) / 1000);
}
