// The PIN: which ones are too easy, how long to wait after wrong ones, and the key that comes from it.

import { utf8 } from "./bytes.js";

export const SHORTEST = 6;
/** NIST SP 800-63B-4, 3.2.10: at most ten failures in all, then the secret is gone. */
export const MOST_TRIES = 10;
/** OWASP Password Storage Cheat Sheet, PBKDF2-HMAC-SHA256. */
export const ITERATIONS = 600_000;

const SECOND = 1000;
const MINUTE = 60 * SECOND;
/** Wait before the nth try: the first three are free. Our own choice (trust.md 3.3). */
const WAITS = { 4: 5 * SECOND, 5: 30 * SECOND, 6: MINUTE };
const LONG_WAIT = 5 * MINUTE;

/** @param {number} nth from 1 @returns {number} ms to wait before this try */
export function waitBefore(nth) {
  return nth <= 3 ? 0 : WAITS[nth] ?? LONG_WAIT;
}

/** @returns {string | null} why a PIN is not taken. Source: NIST SP 800-63B-4, 3.2.10; the list is ours. */
export function weakness(pin) {
  if (!/^\d+$/.test(pin)) return "Digits only.";
  if (pin.length < SHORTEST) return `At least ${SHORTEST} digits.`;
  if (new Set(pin).size < 3) return "Too easy: the same digits again and again.";
  if (isRow(pin)) return "Too easy: digits in a row.";
  if (pin.length % 2 === 0 && pin.slice(0, pin.length / 2) === pin.slice(pin.length / 2)) return "Too easy: said twice.";
  return null;
}

const isRow = pin => [1, 9].some(step => [...pin].every((digit, at) => at === 0 || (Number(pin[at - 1]) + step) % 10 === Number(digit)));

/**
 * The key that wraps a person's seed. The PIN's bytes go through PBKDF2, then through a key of this tablet that no script
 * can read out: a copy of the wrapped seed alone cannot be tried.
 * @param {string} pin @param {Uint8Array} salt @param {CryptoKey} share HMAC key of the tablet
 */
export async function keyFrom(pin, salt, share) {
  const typed = await crypto.subtle.importKey("raw", utf8(pin), "PBKDF2", false, ["deriveBits"]);
  const how = { name: "PBKDF2", hash: "SHA-256", salt, iterations: ITERATIONS };
  const stretched = await crypto.subtle.deriveBits(how, typed, 256);
  const mixed = await crypto.subtle.sign("HMAC", share, stretched);
  return derived(await hkdf(mixed), "pin", { name: "AES-GCM", length: 256 }, ["encrypt", "decrypt"]);
}

export const hkdf = bytes => crypto.subtle.importKey("raw", bytes, "HKDF", false, ["deriveKey"]);

/** One key of several that come from the same material, told apart by `purpose`; it cannot be exported. */
export function derived(material, purpose, kind, uses) {
  const how = { name: "HKDF", hash: "SHA-256", salt: new Uint8Array(0), info: utf8(`bedside ${purpose} 1`) };
  return crypto.subtle.deriveKey(how, material, kind, false, uses);
}
