// Who can unlock this tablet. A PIN is never stored and never checked: it makes a key, and the key opens the person's
// seed or does not. A try is counted on the disk before the key is made, so that killing the page gives none back.

import { now, randomBytes, wallMs } from "../identifiers.js";
import { got } from "../store.js";
import { MOST_TRIES, derived, hkdf, keyFrom, waitBefore, weakness } from "./pin.js";
import { RecordDamaged, lock, unlock } from "./records.js";
import { base64 } from "./bytes.js";
import { importBox, newBox } from "./sealing.js";
import { WIPED, wipeForWrongPins, wipePerson } from "./wiping.js";

/** Why nobody was let in; `says` and `do_next` to show. */
export class PinRefused extends Error {
  /** @param {"wrong"|"wait"|"gone"|"weak"|"unknown"} why @param {number} waitMs */
  constructor(why, says, do_next, { waitMs = 0, triesLeft = null } = {}) {
    super(says);
    Object.assign(this, { name: "PinRefused", why, says, do_next, waitMs, triesLeft });
  }
}

const GONE_NEXT = "Sign in with your password and choose a new PIN. What is unsent stays and is sent.";
const gone = () => new PinRefused("gone", "Ten PINs were wrong. Your round was wiped from this tablet.", GONE_NEXT);
const unknown = () => new PinRefused("unknown", "You have no PIN on this tablet yet.", "Sign in and choose one.");
const weak = why => new PinRefused("weak", why, "Choose another one.");
const mustWait = waitMs => new PinRefused("wait", "Too many PINs were wrong.", "Wait, then try again.", { waitMs });
export const notSignedIn = () => new PinRefused("unknown", "You have not just signed in on this tablet.",
  "Sign in with your password, then choose a PIN. What is unsent stays and is sent.");
const wrong = (triesLeft, waitMs) => new PinRefused("wrong", "That PIN is not right.",
  `${triesLeft} ${triesLeft === 1 ? "try is" : "tries are"} left, then your round is wiped from this tablet.`,
  { triesLeft, waitMs });

export class People {
  /** @param {import("../store.js").Store} store @param {string} house the records are bound to */
  constructor(store, house) {
    this.store = store;
    this.house = house;
  }

  /** @returns {Promise<{id: string, name: string, isGone: boolean, waitMs: number}[]>} */
  async everybody() {
    const rows = await this.store.read(["people"], (open, result) => got(open("people").getAll(), result));
    return rows.map(({ id, name, seed, wait_until }) =>
      ({ id, name, isGone: !seed, waitMs: Math.max(0, (wait_until ?? 0) - wallMs()) }));
  }

  /** Gives a person a PIN here, or a new one for a forgotten one: then what the old one opened stays shut for good. */
  async setPin({ id, name }, pin, share) {
    const why = weakness(pin);
    if (why) throw weak(why);
    const seed = randomBytes(32);
    const opened = await keysOf(id, seed);
    const made = await newBox();
    const box = { point: base64(made.point), ...(await lock(opened.own, base64(made.pkcs8), this.#place(id, "box"))) };
    const row = { id, name, made_at: now(), tries: 0, wait_until: null, box, ...(await this.#wrapped(id, seed, pin, share)) };
    await this.store.write(WIPED, open => {
      open("people").put(row);
      wipePerson(open, id); // what an earlier PIN opened cannot be opened any more
    });
    return this.#withBox(opened, box);
  }

  /** @returns {Promise<Opened>} the keys of this person. Rejects with PinRefused. */
  async unlock(id, pin, share) {
    const row = await this.#countTry(id);
    const seed = await this.#seedOf(row, pin, share);
    await this.#change(id, { tries: 0, wait_until: null });
    return this.#withBox(await keysOf(id, seed), row.box);
  }

  async #seedOf(row, pin, share) {
    try {
      const kek = await keyFrom(pin, row.salt, share);
      return Uint8Array.from(await unlock(kek, row.seed, this.#place(row.id, "seed")));
    } catch (error) {
      if (!(error instanceof RecordDamaged)) throw error;
      if (row.tries >= MOST_TRIES) throw await this.#wiped(row.id);
      throw wrong(MOST_TRIES - row.tries, waitBefore(row.tries + 1));
    }
  }

  /** Before anything is derived: one more try is on the disk, with the wait that follows it. */
  async #countTry(id) {
    const at = wallMs();
    const row = await this.store.write(["people"], (open, result) => {
      got(open("people").get(id), found => result(counted(open, found, at)));
    });
    if (!row) throw unknown();
    if (!row.seed || row.tries > MOST_TRIES) throw await this.#wiped(id);
    if (row.waitMs) throw mustWait(row.waitMs);
    return row;
  }

  async #wiped(id) {
    const at = now();
    await this.store.write(WIPED, open => wipeForWrongPins(open, id, at));
    return gone();
  }

  /** A page that died over its tenth try gave no answer: nobody knows that the PIN was right, so it counts as wrong. */
  async finishWipes() {
    const rows = await this.store.read(["people"], (open, result) => got(open("people").getAll(), result));
    for (const { id } of rows.filter(({ seed, tries }) => seed && tries >= MOST_TRIES)) await this.#wiped(id);
  }

  #change(id, changes) {
    return this.store.write(["people"], open => {
      got(open("people").get(id), row => row && open("people").put({ ...row, ...changes }));
    });
  }

  async #wrapped(id, seed, pin, share) {
    const salt = randomBytes(16);
    return { salt, seed: await lock(await keyFrom(pin, salt, share), [...seed], this.#place(id, "seed")) };
  }

  async #withBox(opened, box) {
    const pkcs8 = await unlock(opened.own, box, this.#place(opened.id, "box"));
    const point = Uint8Array.from(atob(box.point), letter => letter.charCodeAt(0));
    const bytes = Uint8Array.from(atob(pkcs8), letter => letter.charCodeAt(0));
    return { ...opened, box: { privateKey: await importBox(bytes), point } };
  }

  #place(id, record) {
    return { house: this.house, store: "people", record, round: id };
  }
}

/**
 * @typedef {object} Opened
 * @property {string} id the person
 * @property {CryptoKey} own AES key of this person here
 * @property {CryptoKey} index HMAC key that makes names of records unreadable
 * @property {{privateKey: CryptoKey, point: Uint8Array}} box what was written while locked is sealed to it
 */

async function keysOf(id, seed) {
  const material = await hkdf(seed);
  return {
    id,
    own: await derived(material, "own", { name: "AES-GCM", length: 256 }, ["encrypt", "decrypt"]),
    index: await derived(material, "index", { name: "HMAC", hash: "SHA-256", length: 256 }, ["sign"]),
  };
}

/** The row with one more try on it; or, while a wait runs, as it was with what is left of it. */
function counted(open, row, at) {
  if (!row?.seed) return row;
  // A clock that was set back must not lengthen the wait past what it was meant to be.
  const waitMs = Math.min(Math.max(0, (row.wait_until ?? 0) - at), waitBefore(row.tries + 1));
  if (waitMs > 0) {
    open("people").put({ ...row, wait_until: at + waitMs });
    return { ...row, waitMs };
  }
  const next = { ...row, tries: row.tries + 1, wait_until: at + waitBefore(row.tries + 2) };
  open("people").put(next);
  return { ...next, waitMs: 0 };
}
