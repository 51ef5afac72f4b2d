// What happened, saved here first and kept until the server has it. An event, its place in the queue and the counter
// are written in one transaction; an event leaves the queue in a later one, on the server's word about its own bytes.

import { moment, newId, now } from "./identifiers.js";
import { firstBatch, settle } from "./delivery.js";
import { got } from "./store.js";

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

/** Everything that takes time is done before the transaction opens. */
async function rowOf(spec, skewMs) {
  const body = JSON.stringify(bodyOf(spec, skewMs));
  const { visit, kind, packet = null } = spec;
  return { id: spec.id ?? newId(), visit, kind, body, packet, hash: await hashOf(body), saved_at: now(), answer: null };
}

/** @returns {{id: string, tablet: string, seq: number, body: object, answer: object | null}} */
function shown({ id, tablet, seq, body, answer }) {
  return { id, tablet, seq, body: JSON.parse(body), answer };
}

export class Outbox {
  /** @param {import("./store.js").Store} store @param {string} tablet */
  constructor(store, tablet) {
    this.store = store;
    this.tablet = tablet;
  }

  /** Opens the outbox of a store; a store that starts empty is a new tablet. */
  static async open(store) {
    const fresh = newId();
    const tablet = await store.write(["meta"], (open, result) => {
      const meta = open("meta");
      got(meta.get("tablet"), row => {
        if (!row) meta.add({ key: "tablet", value: fresh });
        result(row?.value ?? fresh);
      });
    });
    return new Outbox(store, tablet);
  }

  /**
   * Saves events of one moment, all or none, and resolves when they are on the disk.
   * @param {Spec[]} specs @param {number | null} skewMs
   */
  async save(specs, skewMs) {
    const rows = await Promise.all(specs.map(spec => rowOf(spec, skewMs)));
    const saved = await this.store.write(SAVING, (open, result) => {
      const kept = [];
      lastSeq(open, this.tablet, seq => this.#addInTurn(open, rows, seq, kept));
      result(kept);
    });
    return saved.map(shown);
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
    const rows = await this.store.read(["events"], (open, result) => {
      got(open("events").index("by_visit").getAll(visit), result);
    });
    return rows.sort((a, b) => a.tablet.localeCompare(b.tablet) || a.seq - b.seq).map(shown);
  }

  async allEvents() {
    const rows = await this.store.read(["events"], (open, result) => {
      got(open("events").index("by_order").getAll(), result);
    });
    return rows.map(shown);
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
    await this.store.write(["outbox", "events"], open => {
      for (const answer of settled.letGo) {
        open("outbox").delete(answer.id);
        note(open, answer.id, { status: answer.status, findings: answer.findings ?? [], at });
      }
      for (const { id, why, answer } of settled.holdBack) {
        hold(open, id, why);
        note(open, id, { status: why, findings: answer.findings ?? [], at });
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

/** @returns {{id: string, tablet: string, seq: number, body: string}} an event as it goes over the wire */
export function wireForm({ id, tablet, seq, body }) {
  return { id, tablet, seq, body };
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
    if (event) open("events").put({ ...event, answer });
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
