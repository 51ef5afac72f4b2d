// What happened, saved here first and kept until the server has it. An event, its place in the queue and the counter
// are written in one transaction; an event leaves the queue in a later one, on the server's word about its own bytes.
// An event lies here twice: `sealed` to the house, which is what is sent, and `ours`, what the screens need of it, under
// the key of the round. Nothing of what it says can be read without one of the two.

import { moment, newId, now } from "./identifiers.js";
import { firstBatch, settle } from "./delivery.js";
import { got } from "./store.js";
import { RecordDamaged } from "./vault/records.js";

/** An event that could not be written down as it was given: a mistake in the program, not of the person. */
export class BadEvent extends Error {
  name = "BadEvent";
  says = "The app tried to save something it could not describe. Nothing was saved.";
  do_next = "Write it on paper now, and tell whoever keeps the house.";
}

/** What was answered stays this long: to be shown, and to be offered again if the server is restored from a backup. */
const KEEP_ANSWERED_MS = 7 * 24 * 3600_000;

const SCHEMA = 1;
const SAVING = ["events", "outbox", "meta", "pins"];

/**
 * @typedef {object} Spec
 * @property {string} visit
 * @property {string} kind
 * @property {object} [data]
 * @property {string} [by]
 * @property {string} [rulebook]
 * @property {boolean} [after] the tap came later than the act
 * @property {ReturnType<typeof moment>} [moment] the instant of the tap
 * @property {string} [id] made when the form was opened, so that a second tap changes nothing
 * @property {string} [packet] key of the packet the visit begins with
 */

/** The bytes of an event are made here, once. */
function bodyOf(spec, skewMs) {
  const data = spec.after ? { ...spec.data, after: true } : spec.data ?? {};
  const { at, offset_min, page, mono_ms } = spec.moment ?? moment();
  const { visit, kind, by = null, rulebook = null } = spec;
  return { visit, kind, at, offset_min, server_skew_ms: skewMs, page, mono_ms, by, rulebook, schema: SCHEMA, data };
}

/** Throws BadEvent for what could not be written down. @param {Spec} spec */
export function refuseUnclear(spec) {
  const isText = value => typeof value === "string" && value !== "";
  const isPlain = value => value === undefined || Object.getPrototypeOf(value ?? 0) === Object.prototype;
  if (!isText(spec.visit) || !isText(spec.kind) || !isPlain(spec.data)) {
    throw new BadEvent(`An event needs a visit, a kind and plain data: ${JSON.stringify(spec)}`);
  }
}

/** @param {string} text @returns {Promise<string>} the SHA-256 of its UTF-8 bytes */
export async function hashOf(text) {
  const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return "sha256:" + Array.from(new Uint8Array(digest), byte => byte.toString(16).padStart(2, "0")).join("");
}

/** The same before it is shown: what lies in `ours`. */
const oursOf = (spec, body) => ({ body, packet: spec.packet ?? null });

export class Outbox {
  /** What was read already, by id: a record is opened once. */
  #opened = new Map();
  #damaged = new Set();

  /** @param {import("./store.js").Store} store @param {string} tablet @param {import("./vault/vault.js").Vault} [vault] */
  constructor(store, tablet, vault = null) {
    this.store = store;
    this.tablet = tablet;
    this.vault = vault;
  }

  /** The name of a store's tablet; a store that starts empty is a new tablet. */
  static async nameOf(store) {
    const fresh = newId();
    const tablet = await store.write(["meta"], (open, result) => {
      const meta = open("meta");
      got(meta.get("tablet"), row => {
        if (!row) meta.add({ key: "tablet", value: fresh });
        result(row?.value ?? fresh);
      });
    });
    return tablet;
  }

  /**
   * Saves events of one moment, all or none, and resolves when they are on the disk.
   * @param {Spec[]} specs @param {number | null} skewMs
   */
  async save(specs, skewMs) {
    return this.#write(await Promise.all(specs.map(spec => this.#rowOf(spec, skewMs))));
  }

  /**
   * The same on a locked tablet, for the person whose visit it is. What was saved can be read by nobody before the PIN.
   * @param {Spec[]} specs @param {{person: string, visitTag: string}} running
   */
  async saveLocked(specs, skewMs, { person, visitTag }) {
    const rows = await Promise.all(specs.map(async spec => {
      const [id, body] = [spec.id ?? newId(), JSON.stringify({ ...bodyOf(spec, skewMs), locked: true })];
      return this.#row(id, visitTag, null, body, this.vault.keepLocked(person, id, oursOf(spec, body)));
    }));
    await this.#write(rows, row => row);
  }

  /** Everything that takes time is done before the transaction opens; the body is sealed here, once. */
  #rowOf(spec, skewMs) {
    const body = JSON.stringify(bodyOf(spec, skewMs));
    const id = spec.id ?? newId();
    const kept = this.vault.keep("events", id, oursOf(spec, body));
    const tags = [this.vault.tag(spec.visit), spec.packet ? this.vault.tag(spec.packet) : null];
    return this.#row(id, ...tags, body, kept);
  }

  async #row(id, visit, packet, body, ours) {
    const sealed = await this.vault.sealForHouse(body, id);
    return {
      id, visit: await visit, packet: await packet, sealed, hash: await hashOf(sealed), ours: await ours,
      saved_at: now(), answer: null,
    };
  }

  async #write(rows, shownAs = row => this.#shown(row)) {
    const saved = await this.store.write(SAVING, (open, result) => {
      const kept = [];
      lastSeq(open, this.tablet, seq => this.#addInTurn(open, rows, seq, kept));
      result(kept);
    });
    return Promise.all(saved.map(shownAs));
  }

  /** What an event says, to whom it belongs: {body, packet}; undefined to anybody else. */
  async #open(row) {
    if (!this.#opened.has(row.id)) {
      const ours = await this.vault.look("events", row.id, row.ours);
      if (ours === undefined) return undefined;
      this.#opened.set(row.id, ours);
    }
    return this.#opened.get(row.id);
  }

  /** @returns {Promise<{id: string, tablet: string, seq: number, body: object, answer: object | null} | null>} */
  async #shown(row) {
    const { id, tablet, seq, answer } = row;
    try {
      const ours = await this.#open(row);
      return ours ? { id, tablet, seq, body: JSON.parse(ours.body), answer } : null;
    } catch (error) {
      if (!(error instanceof RecordDamaged)) throw error;
      this.#damaged.add(id);
      return null;
    }
  }

  async #allShown(rows) {
    return (await Promise.all(rows.map(row => this.#shown(row)))).filter(Boolean);
  }

  /** How many records were changed or damaged, as far as they were read. */
  get damaged() {
    return this.#damaged.size;
  }

  /** {visit, kind} of an event that was read here; null while locked, or for somebody else's. */
  readAlready(id) {
    const ours = this.#opened.get(id);
    return ours ? JSON.parse(ours.body) : null;
  }

  /** Lets go of everything that was read. */
  forgetRead() {
    this.#opened.clear();
    this.#damaged.clear();
  }

  /** Adds one after the other, so that the numbers have no gap where a row was there already. */
  #addInTurn(open, rows, seq, kept) {
    if (!rows.length) return open("meta").put({ key: "seq", value: seq });
    const [row, ...rest] = rows;
    got(open("events").get(row.id), known => {
      if (!known) this.#add(open, row, seq + 1);
      kept.push(known ?? { ...row, tablet: this.tablet, seq: seq + 1 });
      this.#addInTurn(open, rest, known ? seq : seq + 1, kept);
    });
  }

  #add(open, { packet, ...row }, seq) {
    const { tablet } = this;
    open("events").add({ ...row, tablet, seq });
    open("outbox").add({ id: row.id, tablet, seq, saved_at: row.saved_at, held_back: null });
    pin(open, row.visit, packet);
  }

  /** @returns {Promise<number>} the highest number given so far */
  highestSeq() {
    return this.store.read(["events", "meta"], (open, result) => lastSeq(open, this.tablet, result));
  }

  /** @param {string} visit */
  async eventsOf(visit) {
    const tag = await this.vault.tag(visit);
    const rows = await this.store.read(["events"], (open, result) => {
      got(open("events").index("by_visit").getAll(tag), result);
    });
    return this.#allShown(rows.sort((a, b) => a.tablet.localeCompare(b.tablet) || a.seq - b.seq));
  }

  async allEvents() {
    const rows = await this.store.read(["events"], (open, result) => {
      got(open("events").index("by_order").getAll(), result);
    });
    return this.#allShown(rows);
  }

  /** The next events to send, in order, with the very bytes that were saved. @param {number} most */
  async nextBatch(most) {
    return firstBatch(await this.#waiting(most), most);
  }

  #waiting(most) {
    return this.store.read(["outbox", "events"], (open, result) => {
      const found = [];
      result(found);
      got(open("outbox").index("by_order").getAll(), rows => {
        const next = rows.filter(row => !row.held_back).slice(0, most);
        next.forEach((row, place) => got(open("events").get(row.id), event => { found[place] = event; }));
      });
    });
  }

  /**
   * Takes the server's answers to a batch: lets go of what it has, holds back what it will not take.
   * @returns {Promise<{letGo: object[], holdBack: object[], unanswered: string[]}>}
   */
  async settle(batch, answers) {
    const settled = settle(batch, answers);
    const at = now();
    // The findings stay at the house: their words must not lie here readable.
    await this.store.write(["outbox", "events"], open => {
      for (const answer of settled.letGo) {
        open("outbox").delete(answer.id);
        note(open, answer.id, { status: answer.status, at });
      }
      for (const { id, why } of settled.holdBack) {
        hold(open, id, why);
        note(open, id, { status: why, at });
      }
    });
    return settled;
  }

  /** Holds one event back, visibly, so that the others pass. @param {string} id @param {string} why */
  holdBack(id, why) {
    return this.store.write(["outbox"], open => hold(open, id, why));
  }

  /** Offers again what was held back: the server may have been mended meanwhile. */
  offerHeldBack() {
    return this.store.write(["outbox"], open => {
      got(open("outbox").getAll(), rows => {
        for (const row of rows) if (row.held_back) open("outbox").put({ ...row, held_back: null });
      });
    });
  }

  /** What the screens count. */
  census() {
    return this.store.read(["outbox", "events"], (open, result) => {
      got(open("outbox").getAll(), rows => {
        got(open("events").index("by_answer").count("set-aside"), setAside => result(counted(rows, setAside)));
      });
    });
  }

  /** Everything no server has taken yet, one event a line, as it would be sent. */
  async unsentLines() {
    const rows = await this.store.read(["outbox", "events"], (open, result) => {
      const found = [];
      result(found);
      got(open("outbox").index("by_order").getAll(), queue => {
        queue.forEach((row, place) => got(open("events").get(row.id), event => { found[place] = event; }));
      });
    });
    return rows.map(row => JSON.stringify(wireForm(row)) + "\n").join("");
  }

  /** Forgets what was answered long ago. @param {number} nowMs */
  forgetOld(nowMs) {
    const before = new Date(nowMs - KEEP_ANSWERED_MS).toISOString();
    return this.store.write(["outbox", "events", "pins"], open => {
      got(open("outbox").getAllKeys(), keys => forgetAnswered(open, new Set(keys), before));
    });
  }
}

/** An event as it goes over the wire; one saved before tablets sealed goes as the text it was. */
export function wireForm({ id, tablet, seq, sealed, body }) {
  return sealed ? { id, tablet, seq, sealed } : { id, tablet, seq, body };
}

/** The counter, or the highest number really used if that is higher: numbers are never given twice. */
function lastSeq(open, tablet, then) {
  const range = IDBKeyRange.bound([tablet, 0], [tablet, Infinity]);
  got(open("meta").get("seq"), counter => {
    got(open("events").index("by_order").openCursor(range, "prev"), last => {
      then(Math.max(counter?.value ?? 0, last?.value.seq ?? 0));
    });
  });
}

/** A visit keeps the packet it began with. */
function pin(open, visit, packet) {
  got(open("pins").get(visit), pinned => {
    if (!pinned && packet) open("pins").add({ visit, packet });
  });
}

function note(open, id, answer) {
  got(open("events").get(id), event => {
    // Handed back or wiped meanwhile: nobody here can read it, and the house has it now.
    if (event && !event.ours && answer.status !== "id-reused") open("events").delete(id);
    else if (event) open("events").put({ ...event, answer });
  });
}

function hold(open, id, why) {
  got(open("outbox").get(id), row => {
    if (row) open("outbox").put({ ...row, held_back: why });
  });
}

function counted(rows, setAside) {
  return {
    unsent: rows.length,
    oldestUnsentAt: rows.map(row => row.saved_at).sort()[0] ?? null,
    heldBack: rows.filter(row => row.held_back).length,
    setAside,
  };
}

/** A visit goes as a whole: not while any of its events is unsent or was answered lately. */
function forgetAnswered(open, unsent, before) {
  got(open("events").getAll(), events => {
    const isFresh = event => unsent.has(event.id) || !event.answer || event.answer.at >= before;
    const needed = new Set(events.filter(isFresh).map(event => event.visit));
    for (const event of events.filter(each => !needed.has(each.visit))) {
      open("events").delete(event.id);
      open("pins").delete(event.visit);
    }
  });
}
