// What keeps patients' data unreadable on this tablet. Everything a person's round needs is written under a key of that
// round, which lies under the person's own key, which only the PIN opens. Events are sealed to the house besides.
// The open keys are held here and nowhere else, and are let go of on locking.

import { newId, randomBytes } from "../identifiers.js";
import { got } from "../store.js";
import { base64, fromHex, hex, utf8 } from "./bytes.js";
import { newKeys, signatureOf } from "./device.js";
import { People } from "./people.js";
import { RecordDamaged, lock, unlock } from "./records.js";
import { openSealed, sealTo } from "./sealing.js";
import { BOX, OWN, WIPED, wipeEverything, wipePerson } from "./wiping.js";

/** Something was asked of a locked tablet that only an unlocked one can do. */
export class Locked extends Error {
  name = "Locked";
  says = "This tablet is locked.";
  do_next = "Unlock it with your PIN.";
}

/** The tablet has no keys of its own yet. */
export class NotEnrolled extends Error {
  name = "NotEnrolled";
  says = "This tablet is not enrolled.";
  do_next = "Ask for a code at the house and type it on this tablet.";
}

const ENROL_TIMEOUT_MS = 10_000;
const NO_NAME = "0000000000000000";

export class Vault {
  #open = null;
  #rounds = new Map();
  #current = null;

  /** @param {import("../store.js").Store} store @param {string} tablet name of this store @param {object} rows of `meta` */
  constructor(store, tablet, { device, origin }) {
    this.store = store;
    this.tablet = tablet;
    this.device = device;
    this.house = origin ?? store.house;
    this.people = new People(store, this.house);
  }

  /** Reads what was enrolled before. Records stay bound to the house they were made for, also after a restore. */
  static async open(store, tablet) {
    const rows = await store.write(["meta"], (open, result) => {
      got(open("meta").get("device"), device => got(open("meta").get("origin"), origin => {
        if (!origin) open("meta").put({ key: "origin", value: store.house });
        result({ device: device?.value ?? null, origin: origin?.value });
      }));
    });
    return new Vault(store, tablet, rows);
  }

  // ---- the tablet itself

  get isEnrolled() {
    return this.device !== null;
  }

  /** Shows the code and the new public key to the house. Rejects with what the house says when it does not take them. */
  async enrol(code, wire) {
    const { pair, share, publicKey } = await newKeys();
    const reply = await wire.post("/tablet/enrol", { code, tablet: this.tablet, key: publicKey }, ENROL_TIMEOUT_MS);
    if (reply.status !== 200) throw refusedEnrolment(reply.json);
    const { name, sealing } = reply.json;
    const device = { pair, share: this.device?.share ?? share, tablet: this.tablet, name, sealing };
    await this.store.write(["meta"], open => open("meta").put({ key: "device", value: device }));
    this.device = device;
  }

  /** The house's key as it is now: a restored or renewed one is sealed to from then on. */
  async learn(sealing) {
    if (!this.device || !sealing?.key || sealing.key === this.device.sealing.key) return;
    this.device = { ...this.device, sealing };
    await this.store.write(["meta"], open => open("meta").put({ key: "device", value: this.device }));
  }

  /** Headers that prove a request came from here; none before enrolment. */
  sign = async (method, path, body) => {
    if (!this.device) await this.readDevice(); // another window may have enrolled it
    return this.device ? signatureOf(this.device, method, path, body) : {};
  };

  async readDevice() {
    const row = await this.store.read(["meta"], (open, result) => got(open("meta").get("device"), result));
    this.device = row?.value ?? null;
  }

  #share() {
    if (!this.device) throw new NotEnrolled();
    return this.device.share;
  }

  // ---- people

  /** @returns {string | null} who has unlocked */
  get person() {
    return this.#open?.id ?? null;
  }

  async setPin(person, pin) {
    await this.#unlocked(await this.people.setPin(person, pin, this.#share()));
  }

  async unlock(person, pin) {
    await this.#unlocked(await this.people.unlock(person, pin, this.#share()));
  }

  async #unlocked(opened) {
    this.#open = opened;
    await this.readRounds();
  }

  /** Reads which rounds this person can open; again when another window made or wiped one. */
  async readRounds() {
    const opened = this.#open;
    if (!opened) return;
    const rows = await this.store.read(["rounds"], (open, result) => {
      got(open("rounds").index("by_person").getAll(opened.id), result);
    });
    const there = new Set(rows.map(row => row.kid));
    for (const kid of this.#rounds.keys()) if (!there.has(kid)) this.#rounds.delete(kid);
    for (const row of rows) if (!this.#rounds.has(row.kid)) await this.#takeRound(row);
    this.#current = rows.find(row => row.is_current)?.kid ?? null;
  }

  async #takeRound(row) {
    const own = this.#open?.own;
    if (!own) return; // locked meanwhile
    try {
      const { raw, round } = await unlock(own, row, this.#placeOf("rounds", row.kid, "own"));
      const key = await crypto.subtle.importKey("raw", fromHex(raw), "AES-GCM", false, ["encrypt", "decrypt"]);
      this.#rounds.set(row.kid, { key, round, until: row.until });
    } catch (error) {
      if (!(error instanceof RecordDamaged)) throw error;
      reportError(error);
    }
  }

  /** From here on nothing of a patient can be read on this tablet. */
  lock() {
    this.#open = null;
    this.#rounds = new Map();
    this.#current = null;
  }

  // ---- rounds

  /** Makes the key of a round, or goes on with it. Resolves to the row to be written with the packet. */
  async roundRow(round, until) {
    this.#mustBeOpen();
    const known = [...this.#rounds].find(([, each]) => each.round === round);
    const kid = known?.[0] ?? newId();
    const raw = known ? null : randomBytes(32);
    if (raw) {
      const key = await crypto.subtle.importKey("raw", raw, "AES-GCM", false, ["encrypt", "decrypt"]);
      this.#rounds.set(kid, { key, round, until });
    }
    this.#current = kid;
    this.#rounds.get(kid).until = until;
    const wrapped = raw
      ? await lock(this.#open.own, { raw: hex(raw), round }, this.#placeOf("rounds", kid, "own"))
      : null;
    return { kid, person: this.#open.id, until, is_current: true, ...(wrapped ?? {}) };
  }

  /** @returns {{kid: string, until: string | null}[]} the rounds that can be read now */
  get rounds() {
    return [...this.#rounds].map(([kid, { until }]) => ({ kid, until }));
  }

  // ---- records

  /** A value as it lies on the disk, for one record: under the key of the round, or before any round the person's own. */
  keep(store, record, value) {
    const { kid, key, round } = this.#keyNow();
    return lock(key, value, this.#placeOf(store, record, round)).then(locked => ({ kid, ...locked }));
  }

  /** The same for a record whose name is still being made; the key is the one of this moment. */
  async keepNamed(store, named, value) {
    const { kid, key, round } = this.#keyNow();
    return { kid, ...(await lock(key, value, this.#placeOf(store, await named, round))) };
  }

  #keyNow() {
    this.#mustBeOpen();
    const { id, own } = this.#open;
    const current = this.#rounds.get(this.#current);
    return current ? { kid: this.#current, ...current } : { kid: OWN + id, key: own, round: "own" };
  }

  /** The value, or undefined when it belongs to somebody else or to a round that is gone. Rejects with RecordDamaged. */
  async look(store, record, row) {
    if (!this.#open || !row?.kid) return undefined;
    if (row.kid === BOX + this.#open.id) return this.#fromBox(record, row);
    const found = row.kid === OWN + this.#open.id ? { key: this.#open.own, round: "own" } : this.#rounds.get(row.kid);
    return found && unlock(found.key, row, this.#placeOf(store, record, found.round));
  }

  async #fromBox(record, row) {
    try {
      return JSON.parse(await openSealed(this.#open.box, row.sealed, record, row.tablet));
    } catch (cause) {
      throw new RecordDamaged("The seal does not fit", { cause });
    }
  }

  /** What was done while locked, for the person it belongs to: sealed, so that nobody can read it before the PIN. */
  async keepLocked(person, record, value) {
    const row = await this.store.read(["people"], (open, result) => got(open("people").get(person), result));
    if (!row?.box) return null;
    const to = { kid: NO_NAME, key: row.box.point };
    const sealed = await sealTo(to, JSON.stringify(value), record, this.tablet);
    return { kid: BOX + person, sealed, tablet: this.tablet };
  }

  /** A text sealed to the house. Made once for an event, before anything is written. */
  sealForHouse(text, id) {
    if (!this.device) return Promise.reject(new NotEnrolled());
    return sealTo(this.device.sealing, text, id, this.tablet);
  }

  /** A name nobody can read: the same for the same text and person, and for nobody else. */
  async tag(text) {
    this.#mustBeOpen();
    return base64(await crypto.subtle.sign("HMAC", this.#open.index, utf8(text)));
  }

  #mustBeOpen() {
    if (!this.#open) throw new Locked();
  }

  #placeOf(store, record, round) {
    return { house: this.house, store, record, round };
  }

  // ---- letting go

  /** Makes these rounds of a person unreadable and takes what belonged to them away; unsent events stay, sealed. */
  async wipe(person, kids) {
    await this.store.write(WIPED, open => wipePerson(open, person, kids));
    for (const kid of kids) this.#rounds.delete(kid);
    if (kids.includes(this.#current)) this.#current = null;
  }

  /** While nobody has unlocked: wipes the rounds that ended before this time, whoever's they are. */
  async wipeOver(timeMs) {
    if (this.#open) return;
    const rows = await this.store.read(["rounds"], (open, result) => got(open("rounds").getAll(), result));
    for (const row of rows.filter(({ until }) => until && Date.parse(until) <= timeMs)) {
      await this.wipe(row.person, [row.kid]);
    }
  }

  /** Takes every patient and every person off this tablet; `about` of `wipeEverything`. What is unsent stays, sealed. */
  async wipeAll(about) {
    this.lock();
    await this.store.write(WIPED, open => wipeEverything(open, about));
  }
}

function refusedEnrolment(problem) {
  const error = new NotEnrolled(problem?.title ?? "Refused");
  error.says = problem?.detail ?? error.says;
  error.do_next = problem?.do_next ?? error.do_next;
  return error;
}
