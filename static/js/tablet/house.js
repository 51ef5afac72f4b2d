// Which house this tablet works for, and a canary that tells when its store was lost. The only module with localStorage.

const HOUSE = "bedside.house";
const canaryOf = house => `bedside.canary.${house}`;

/** localStorage may be switched off altogether; then there is no memory and no canary, and the store still works. */
function box() {
  try {
    return globalThis.localStorage ?? null;
  } catch {
    return null;
  }
}

/** @returns {string | null} */
export function rememberedHouse() {
  return box()?.getItem(HOUSE) ?? null;
}

/** @param {string} house */
export function rememberHouse(house) {
  box()?.setItem(HOUSE, house);
}

/** @returns {{tablet: string, seq: number} | null} what this tablet had saved for a house when it last saved. */
export function readCanary(house) {
  const text = box()?.getItem(canaryOf(house));
  return text ? JSON.parse(text) : null;
}

/** @param {string} house @param {{tablet: string, seq: number}} saved */
export function writeCanary(house, saved) {
  box()?.setItem(canaryOf(house), JSON.stringify(saved));
}

/**
 * Compares the canary with the store that was found.
 * @returns {{tablet: string, seq: number} | null} what is gone, or null when nothing is
 */
export function whatWasLost(canary, found) {
  if (!canary) return null;
  const isWhole = canary.tablet === found.tablet && canary.seq <= found.seq;
  return isWhole || canary.seq === 0 ? null : canary;
}
