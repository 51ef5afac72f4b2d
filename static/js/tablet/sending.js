// Takes saved events to the server, for as long as it takes. There is no last try, and nothing is dropped on any answer.
//
//              saved · online · seen again · timer
//    quiet ─────────────────────────────────────────► reaching ── everything answered ──► quiet
//                                                      │    ▲
//       no answer · portal · 5xx · 429 · store trouble │    │ its own timer, or any of the above
//                                                      ▼    │
//                                                     waiting
//
//    from reaching:  401, 403 ──► sign-in       every trigger greets again; signed in ──► reaching. An enrolled tablet is
//                    let in by its own signature; then sign-in only says that nobody is signed in, and sending goes on
//                    another house ──► other-house   the same; nothing is sent to it
//                    400, 409, 413, 422 ──► half the batch; a single event so refused is held back, the others pass
//
// Nothing here says "being sent": after a crash there is only what is queued. What arrives twice counts once, because the
// server knows the ids; the lock only spares the network.

import { chance, monotonic, wallMs } from "./identifiers.js";
import { BATCH, delayMs, meaningOf } from "./delivery.js";
import { wireForm } from "./outbox.js";
import { EVENTS_TIMEOUT_MS, HELLO_TIMEOUT_MS, NotReached } from "./wire.js";

const WATCHDOG_MS = 15_000;
const HEARTBEAT_MS = 60_000;
/** A tab that was frozen with the lock in its hand must not stop the others for ever. */
const LOCK_PATIENCE_MS = 30_000;
const OFFER_AGAIN_MS = 10 * 60_000;

/**
 * @typedef {object} Ties how the engine is told
 * @property {(changes: object) => void} tell changes of the status
 * @property {(reply: import("./wire.js").Reply) => Promise<void>} heard every answer of our own house
 * @property {(reply: import("./wire.js").Reply) => Promise<void>} otherHouse an answer of another house
 * @property {(settled: {letGo: object[], holdBack: object[]}, batch: object[]) => Promise<void>} answered
 * @property {(batch: object[]) => Promise<{head: object | null, verdicts: object}>} enclosed what rides along
 */

export class Sending {
  #busy = null;
  #again = false;
  #timer = 0;
  #failures = 0;
  #most = BATCH;
  #state = "quiet";
  #greetedAt = -Infinity;
  #notBefore = -Infinity;
  #refusedLockSince = null;
  #nobody = false;
  #offeredAt = monotonic();
  #listening = new AbortController();

  /**
   * @param {import("./outbox.js").Outbox} outbox
   * @param {{get: Function, post: Function}} wire
   * @param {Ties} ties
   */
  constructor(outbox, wire, ties) {
    this.outbox = outbox;
    this.wire = wire;
    this.ties = ties;
    this.house = outbox.store.house;
  }

  /** From now on the page's own events set it going. */
  start() {
    const { signal } = this.#listening;
    for (const name of ["online", "focus", "pageshow"]) addEventListener(name, () => this.wake(), { signal });
    document.addEventListener("visibilitychange", () => document.hidden || this.wake(), { signal });
    this.wake();
  }

  /** Ends it for this page: the tablet moves to another house. */
  stop() {
    this.#listening.abort();
    clearTimeout(this.#timer);
  }

  /** Something was saved: send it, unless the server was silent a moment ago and a try is due anyway. */
  saved() {
    if (this.#state === "waiting" && monotonic() < this.#notBefore) return;
    this.#go();
  }

  /** Something may have changed outside: greet the server again, then send. */
  wake() {
    this.#greetedAt = -Infinity;
    return this.#go();
  }

  /** On the user's wish: everything, also what was held back. */
  async tryAgain() {
    await this.outbox.offerHeldBack();
    return this.wake();
  }

  #go() {
    this.#again = true;
    this.#busy ??= this.#rounds().finally(() => {
      this.#busy = null;
    });
    return this.#busy;
  }

  /** Its only ways out arm the next try. */
  async #rounds() {
    clearTimeout(this.#timer);
    while (this.#again) {
      this.#again = false;
      await this.#round().catch(error => this.#failed(error));
    }
    this.#arm();
  }

  async #round() {
    await this.#offerAgain();
    if (!(await this.#greet())) return;
    while (await this.#locked(() => this.#deliverNext()));
  }

  async #offerAgain() {
    if (monotonic() - this.#offeredAt < OFFER_AGAIN_MS) return;
    this.#offeredAt = monotonic();
    await this.outbox.offerHeldBack();
  }

  /** Asks who answers before anything is sent. @returns {Promise<boolean>} whether it is our house, and we may send */
  async #greet() {
    if (monotonic() - this.#greetedAt < HEARTBEAT_MS) return true;
    const reply = await this.wire.get("/tablet/hello", HELLO_TIMEOUT_MS);
    if (!(await this.#isOurs(reply))) return false;
    if (reply.status !== 200) throw later(reply);
    this.#nobody = reply.json?.person === null;
    this.#greetedAt = monotonic();
    this.#reached();
    return true;
  }

  /** Looks at who answered and whether we may go on; otherwise says so and stops here. */
  async #isOurs(reply) {
    const needsSignIn = reply.status === 401 || reply.status === 403;
    if (needsSignIn) return this.#pause("sign-in");
    if (reply.house !== this.house) {
      await this.ties.otherHouse(reply);
      return this.#pause("other-house");
    }
    await this.ties.heard(reply);
    return true;
  }

  #pause(state) {
    this.#greetedAt = -Infinity;
    this.#enter(state);
    return false;
  }

  /** One batch at a time, so that a frozen tab holds the lock for one batch at most. */
  async #locked(deliver) {
    if (this.#isLockOverdue() || !navigator.locks) return deliver();
    return navigator.locks.request(`bedside-send-${this.house}`, { ifAvailable: true }, lock => {
      if (!lock) return this.#lockRefused();
      this.#refusedLockSince = null;
      return deliver();
    });
  }

  #lockRefused() {
    this.#refusedLockSince ??= monotonic();
    return false;
  }

  #isLockOverdue() {
    return this.#refusedLockSince !== null && monotonic() - this.#refusedLockSince > LOCK_PATIENCE_MS;
  }

  /** @returns {Promise<boolean>} whether there is more to do now */
  async #deliverNext() {
    const batch = await this.outbox.nextBatch(this.#most);
    if (!batch.length) {
      this.#enter(this.#nobody ? "sign-in" : "quiet");
      return false;
    }
    this.#enter("reaching");
    const letter = { ...this.#letter(batch), ...(await this.ties.enclosed(batch)) };
    const reply = await this.#post(letter);
    return (await this.#isOurs(reply)) && this.#take(batch, reply);
  }

  /** A letter without an answer may be too long for a slow line, or for a proxy on the way: the next one is shorter. */
  #post(letter) {
    return this.wire.post("/tablet/events", letter, EVENTS_TIMEOUT_MS).catch(error => {
      this.#most = Math.max(1, Math.floor(letter.events.length / 2));
      throw error;
    });
  }

  #letter(batch) {
    return { house: this.house, tablet: batch[0].tablet, schema: 1, events: batch.map(wireForm) };
  }

  async #take(batch, reply) {
    const meaning = meaningOf(reply.status, reply.json);
    if (meaning === "answers") return this.#settle(batch, reply);
    if (meaning === "halve") return this.#halve(batch);
    throw later(reply);
  }

  async #settle(batch, reply) {
    const settled = await this.outbox.settle(batch, reply.json.answers);
    await this.ties.answered(settled, batch);
    if (settled.unanswered.length === batch.length) throw later(reply);
    this.#most = Math.min(BATCH, this.#most * 2);
    this.#reached();
    return true;
  }

  async #halve(batch) {
    if (batch.length === 1) {
      await this.outbox.holdBack(batch[0].id, "refused");
      await this.ties.answered({ letGo: [], holdBack: batch }, batch);
    }
    this.#most = Math.max(1, Math.floor(batch.length / 2));
    return true;
  }

  #reached() {
    this.#failures = 0;
    this.#notBefore = -Infinity;
    this.ties.tell({ trouble: null });
  }

  #failed(error) {
    this.#failures += 1;
    this.#greetedAt = -Infinity;
    const wait = delayMs(this.#failures, chance(), error.retryAfterMs ?? null);
    this.#notBefore = monotonic() + wait;
    this.#enter("waiting", new Date(wallMs() + wait).toISOString());
    if (!(error instanceof NotReached)) this.ties.tell({ trouble: troubleOf(error) });
  }

  #enter(state, retryAt = null) {
    this.#state = state;
    this.ties.tell({ state, retryAt });
  }

  /** A round that ended, however it ended, has a next one. */
  #arm() {
    if (this.#listening.signal.aborted) return;
    const waits = { waiting: Math.max(0, this.#notBefore - monotonic()), quiet: HEARTBEAT_MS };
    if (this.#nobody) waits["sign-in"] = HEARTBEAT_MS;
    this.#timer = setTimeout(() => this.#go(), waits[this.#state] ?? WATCHDOG_MS);
  }
}

/** Our server answered, but not yet with an answer to this. */
function later(reply) {
  return Object.assign(new NotReached(`Answered ${reply.status}`), { retryAfterMs: reply.retryAfterMs });
}

/** A store that fails while sending is shown; any other mistake must not stop the sending, but must be seen. */
function troubleOf(error) {
  if (!error.says) reportError(error);
  const { name, says = String(error), do_next = "Reload the page. If it stays so, take another tablet." } = error;
  return { name, says, do_next };
}
