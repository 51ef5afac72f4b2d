// The very first start: this tablet knows no house yet and waits until one answers.

import { chance, wallMs } from "./identifiers.js";
import { delayMs } from "./delivery.js";
import { HELLO_TIMEOUT_MS, NotReached } from "./wire.js";

/**
 * @param {{get: Function}} wire
 * @param {(changes: object) => void} tell
 * @returns {Promise<string>} the house that answered, signed in or not
 */
export async function firstContact(wire, tell) {
  for (let failures = 1; ; failures += 1) {
    const house = await houseThatAnswers(wire);
    if (house) return house;
    const wait = delayMs(failures, chance(), null);
    tell({ state: "first-contact", retryAt: new Date(wallMs() + wait).toISOString() });
    await timeOrNetwork(wait);
  }
}

async function houseThatAnswers(wire) {
  try {
    return (await wire.get("/tablet/hello", HELLO_TIMEOUT_MS)).house;
  } catch (error) {
    if (error instanceof NotReached) return null;
    throw error;
  }
}

/** Settles after `ms`, or sooner when the network seems to be back. */
function timeOrNetwork(ms) {
  return new Promise(resolve => {
    setTimeout(resolve, ms);
    addEventListener("online", resolve, { once: true });
  });
}
