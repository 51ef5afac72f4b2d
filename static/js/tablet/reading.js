// Tells a reader's burst of keys from a person's typing. Pure: keys with their times in, a decision out.
//
// A hand-held reader types like a keyboard, but a key every few milliseconds, and ends with Enter. A fast typist needs
// some 80 ms a key; a held key repeats every 30 ms, but says that it repeats. (From memory, not from a standard.)

/** The longest gap between two keys of one burst, ms. Cordless readers need up to about 30. */
export const GAP_MS = 50;
/** Shorter bursts are taken for typing. */
export const SHORTEST = 4;

/** @typedef {{text: string, last: number}} Burst what has come in so fast that a reader may be at work */

/** @type {Burst} */
export const NOTHING = Object.freeze({ text: "", last: -Infinity });

/**
 * Takes one key.
 * @param {Burst} burst
 * @param {{key: string, repeat?: boolean, ctrlKey?: boolean, altKey?: boolean, metaKey?: boolean}} press
 * @param {number} at ms, of the key itself and not of when the page got round to it
 * @returns {{burst: Burst, scan: string | null}}
 */
export function take(burst, press, at) {
  if (isModifier(press.key)) return { burst, scan: null };
  const isFast = at - burst.last <= GAP_MS;
  if (isEnd(press.key)) return { burst: NOTHING, scan: isFast && burst.text.length >= SHORTEST ? burst.text : null };
  const character = characterOf(press);
  if (character === null || press.repeat) return { burst: NOTHING, scan: null };
  return { burst: { text: (isFast ? burst.text : "") + character, last: at }, scan: null };
}

/** Reports whether a reader is probably at work already: then its keys belong to nobody else. */
export function isUnderWay(burst) {
  return burst.text.length >= 2;
}

function isModifier(key) {
  return ["Shift", "Control", "Alt", "AltGraph", "CapsLock"].includes(key);
}

function isEnd(key) {
  return key === "Enter" || key === "Tab";
}

/** Readers send the group separator of GS1 codes as Ctrl+]. */
function characterOf({ key, ctrlKey, altKey, metaKey }) {
  if (ctrlKey && key === "]") return "\u001d";
  return key.length === 1 && !ctrlKey && !altKey && !metaKey ? key : null;
}
