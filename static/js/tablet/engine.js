// Puts the parts together. The screens import this module and `identifiers.js`, and nothing else of the engine.

import { AppVersion, build, reload } from "./app_version.js";
import { Board } from "./board.js";
import { better, skewFrom } from "./clock.js";
import { Drafts } from "./drafts.js";
import { firstContact } from "./first_contact.js";
import * as home from "./house.js";
import { moment, wallMs } from "./identifiers.js";
import { askToBeKept, registerWorker, whatIsMissing } from "./install.js";
import { carryOver, movedTo } from "./moving.js";
import { Outbox, refuseUnclear } from "./outbox.js";
import { isStale, keyOf } from "./packet.js";
import { PacketKeeper } from "./packet_keeper.js";
import { Scanner } from "./scanner.js";
import { Sending } from "./sending.js";
import { Store, StoreTrouble, got, storedHouses } from "./store.js";
import { LONG_OVER_MS, SET_BACK_MS, hasEnded, isUnderWay, leaseTime } from "./vault/lease.js";
import { idleSeconds } from "./vault/idle.js";
import { notSignedIn } from "./vault/people.js";
import { Locked, Vault } from "./vault/vault.js";
import { HANDED_BACK, PINS_USED_UP } from "./vault/wiping.js";
import * as wire from "./wire.js";

/** How often the latest time is written down. */
const SEEN_EVERY_MS = 60_000;

/** So long counts the house's word that somebody has just signed in; it is asked every minute. */
const FRESH_HEARD_S = 150;

/** Starts the engine of this page. Returns at once and never throws; see README.md for what can be called. */
export function startEngine() {
  const engine = new Engine();
  engine.ready = engine.begin();
  return engine;
}

class Engine {
  build = build;
  missing = whatIsMissing();
  /** @type {Promise<boolean>} whether this tablet can record */
  ready = Promise.resolve(false);
  /** The screens say whether a reload would lose something. */
  mayReload = () => true;
  /** The screens judge a visit that has ended: `[[code, severity, event], …]`, or null. The server compares. */
  verdictOf = async (_visit) => null;

  #board = new Board();
  #scanner = new Scanner(window);
  #saving = 0;
  #savedListeners = new Set();
  #packetListeners = new Set();
  #grounds = new Map();
  #skew = null;
  #refreshing = null;
  #asked = null;
  #heardFresh = moment();
  #version = null;
  #seen = 0;
  #wire = wire;
  #vault = null;
  #store = null;
  #outbox = null;
  #keeper = null;
  #sending = null;
  #channel = null;

  // ---- starting

  async begin() {
    if (this.missing.length) return false;
    this.#install();
    try {
      const house = home.rememberedHouse() ?? (await storedHouses())[0] ?? await this.#firstContact();
      await this.#open(house);
      return true;
    } catch (error) {
      this.#board.set({ state: "no-store", trouble: troubleOf(error) });
      return false;
    }
  }

  #install() {
    const tell = changes => this.#board.set(changes);
    this.#installWorker(tell).catch(error => {
      reportError(error);
      tell({ opensOffline: false });
    });
    askToBeKept().then(persisted => tell({ persisted }), () => tell({ persisted: false }));
  }

  async #installWorker(tell) {
    this.#version = new AppVersion(await registerWorker(), tell);
    this.#version.watch();
    await navigator.serviceWorker.ready;
    tell({ opensOffline: true });
  }

  #firstContact() {
    return firstContact(wire, changes => this.#board.set(changes));
  }

  async #open(house) {
    this.#store = new Store(house, trouble => this.#board.set({ trouble: trouble && troubleOf(trouble) }));
    const tablet = await Outbox.nameOf(this.#store);
    this.#vault = await Vault.open(this.#store, tablet);
    this.#outbox = new Outbox(this.#store, tablet, this.#vault);
    this.#wire = wire.signedWire(this.#vault.sign);
    this.#keeper = new PacketKeeper(this.#store, this.#vault, this.#wire);
    this.drafts = new Drafts(this.#store, this.#vault);
    home.rememberHouse(house);
    await this.#outbox.forgetOld(wallMs());
    await this.#noticeLoss(house);
    await this.#remember();
    this.#hearOtherTabs(house);
    await this.#recount();
    await this.#vault.people.finishWipes();
    await this.#wipeLongOver();
    await this.#tellLock();
    this.#sending = new Sending(this.#outbox, this.#wire, this.#ties());
    this.#sending.start();
    this.#lookForOtherHouses(house);
  }

  /** The clock of last time, for a start without network. */
  async #remember() {
    this.#skew = await this.#recall("skew");
    this.#seen = (await this.#recall("seen")) ?? 0;
    const { house } = this.#store;
    this.#board.set({ state: "quiet", house, tablet: this.#outbox.tablet, skewMs: this.#skew?.skewMs ?? null });
  }

  #recall(key) {
    return this.#store.read(["meta"], (open, result) => {
      got(open("meta").get(key), row => result(row?.value ?? null));
    });
  }

  #note(key, value) {
    return this.#store.write(["meta"], open => open("meta").put({ key, value }));
  }

  /** A tablet that saved more than it now holds has lost something: say so until a person has seen it. */
  async #noticeLoss(house) {
    const found = { tablet: this.#outbox.tablet, seq: await this.#outbox.highestSeq() };
    const fresh = home.whatWasLost(home.readCanary(house), found);
    if (fresh) await this.#note("lost", fresh);
    home.writeCanary(house, found);
    this.#board.set({ lost: fresh ?? await this.#recall("lost") });
  }

  /** The person has read that this tablet lost data. */
  async lossSeen() {
    await this.#note("lost", null);
    this.#board.set({ lost: null });
  }

  #hearOtherTabs(house) {
    this.#channel = new BroadcastChannel(`bedside-${house}`);
    this.#channel.onmessage = ({ data }) => this.#changedElsewhere(data);
  }

  async #changedElsewhere({ visits, packet, locked, keys }) {
    if (locked) return this.lock({ isTold: true });
    if (keys) await this.#vault.readDevice();
    if (keys) await this.#tellLock();
    if (keys || packet) await this.#vault.readRounds();
    await this.#recount();
    if (visits) this.#savedListeners.forEach(tell => tell({ visits }));
    if (packet) await this.#packetCame(await this.#keeper.current());
  }

  async #recount() {
    this.#board.set({ ...(await this.#outbox.census()), damaged: this.#outbox.damaged });
  }

  // ---- enrolling, locking, unlocking

  /** Shows the house the code somebody typed. Rejects with an error that has `.says` and `.do_next`. */
  async enrol(code) {
    await this.#mustBeOpen();
    await this.#vault.enrol(code, wire);
    this.#channel.postMessage({ keys: true });
    await this.#tellLock();
    this.#sending.wake();
  }

  /** Gives whoever has just signed in a PIN on this tablet and unlocks it. @param {{id: string, name: string}} person */
  async setPin(person, pin) {
    await this.#mustBeOpen();
    if (!this.#hasJustSignedIn(person.id)) {
      this.#board.set({ freshSignIn: false });
      throw notSignedIn();
    }
    await this.#vault.setPin(person, pin);
    await this.#unlocked();
  }

  /** Rejects with PinRefused (`why`, `says`, `do_next`, `waitMs`, `triesLeft`). */
  async unlock(person, pin) {
    await this.#mustBeOpen();
    try {
      await this.#vault.unlock(person, pin);
    } catch (error) {
      await this.#tellLock();
      if (error.why === "gone") this.#board.set({ person: null, freshSignIn: false });
      if (error.why === "gone") await this.#recount();
      if (error.why === "gone") this.#sending.wake(); // the house is told
      throw error;
    }
    await this.#unlocked();
  }

  /** The house said so a moment ago. Without a network its word grows old: a tablet found later gives nobody a new PIN. */
  #hasJustSignedIn(person) {
    const { freshSignIn, person: signedIn } = this.status;
    return freshSignIn && signedIn?.id === person && idleSeconds(this.#heardFresh, moment()) < FRESH_HEARD_S;
  }

  async #unlocked() {
    await this.#endLeases();
    await this.#noteSeen();
    const packet = await this.#keeper.current();
    if (packet) this.#board.set({ newestRevision: Math.max(packet.revision, this.status.newestRevision ?? 0) });
    await this.#tellLock();
    this.#channel.postMessage({ keys: true });
    this.#asked = null;
    this.#sending.wake();
  }

  /**
   * From here on nothing of a patient is held in this page by the engine, and nobody is told of events any more: the
   * screens start anew after unlocking. @returns {boolean} false while something is being saved
   */
  lock({ isTold = false } = {}) {
    if (!this.#vault?.person) return true;
    if (this.#saving) return false;
    this.#vault.lock();
    this.#outbox.forgetRead();
    this.#grounds.clear();
    this.#savedListeners.clear();
    this.#packetListeners.clear();
    if (!isTold) this.#channel.postMessage({ locked: true });
    this.#board.set({ lock: "locked", unlocked: null });
    this.#tellLock();
    return true;
  }

  /** Who may unlock, who has, and whether the tablet is enrolled or out of use. */
  async #tellLock() {
    const { isEnrolled, person, device } = this.#vault;
    const people = Object.freeze(await this.#vault.people.everybody());
    const lock = !isEnrolled ? "not-enrolled" : person ? "open" : "locked";
    this.#board.set({ lock, unlocked: person, people, named: device?.name ?? null, clockSetBack: this.#isSetBack() });
  }

  /** Takes every patient and every person off this tablet. @returns {Promise<{patients: number, unsent: number}>} */
  async handBack() {
    await this.#mustBeOpen();
    await this.#wipeAll({ isHandedBack: true });
    this.#sending.wake();
    return { patients: 0, unsent: this.status.unsent };
  }

  async #wipeAll({ isRunning = false, isHandedBack = false } = {}) {
    this.lock();
    await this.#vault.wipeAll({ isRunning, isHandedBack });
    this.#board.set({ person: null, freshSignIn: false });
    this.#channel.postMessage({ locked: true });
    await this.#recount();
    await this.#tellLock();
  }

  /** Out of use: its rounds go, but never under a visit that has begun. Clocks that run can still be stopped. */
  async #wipeWhenFree() {
    const isOpen = Boolean(this.#vault.person);
    if (isOpen && (this.#saving || isUnderWay((await this.#outbox.allEvents()).map(({ body }) => body)))) return;
    if (this.status.people.length) await this.#wipeAll({ isRunning: !isOpen });
  }

  /** Handed back, or ten PINs were wrong, and the house has not heard: it still takes whoever holds it for who signed in. */
  async #signInEnds() {
    const [back, letters] = [await this.#recall(HANDED_BACK), await this.#recall(PINS_USED_UP)];
    return back?.told === null || Boolean(letters?.length);
  }

  /** Letters to the house, without a patient in them: told again at every contact until it has them. */
  async #tellHouse() {
    await this.#tellHandedBack();
    await this.#tellPinsUsedUp();
  }

  /** Told at once, and once more when nothing is unsent: only then the house closes the round. */
  async #tellHandedBack() {
    const back = await this.#recall(HANDED_BACK);
    const { unsent } = this.status;
    if (!back || (back.told !== null && unsent)) return;
    const reply = await this.#wire.post("/tablet/hand-back", { unsent: String(unsent) }, wire.HELLO_TIMEOUT_MS);
    if (reply.status !== 200) return;
    await this.#note(HANDED_BACK, unsent ? { told: unsent } : null);
    this.#board.set({ handedBack: Object.freeze(reply.json?.rounds ?? []) });
  }

  async #tellPinsUsedUp() {
    for (const letter of (await this.#recall(PINS_USED_UP)) ?? []) {
      const reply = await this.#wire.post("/tablet/pins-used-up", letter, wire.HELLO_TIMEOUT_MS);
      if (![200, 400].includes(reply.status)) return; // 400: it cannot be read there, and never will be
      await this.#dropLetter(letter);
    }
  }

  #dropLetter({ person, at }) {
    return this.#store.write(["meta"], open => {
      got(open("meta").get(PINS_USED_UP), row => {
        const left = (row?.value ?? []).filter(each => each.person !== person || each.at !== at);
        open("meta").put({ key: PINS_USED_UP, value: left });
      });
    });
  }

  /** Rounds whose time is over become unreadable, but never one with a visit that has begun and not ended. */
  async #endLeases() {
    const { person, rounds } = this.#vault;
    const time = leaseTime(this.serverNow(), this.#seen);
    const over = rounds.filter(({ until }) => hasEnded(until, time)).map(({ kid }) => kid);
    if (!over.length || isUnderWay((await this.#outbox.allEvents()).map(({ body }) => body))) return;
    await this.#vault.wipe(person, over);
    this.#outbox.forgetRead();
    this.#grounds.clear();
  }

  #wipeLongOver() {
    return this.#vault.wipeOver(leaseTime(this.serverNow(), this.#seen) - LONG_OVER_MS);
  }

  /** The latest time this tablet has seen: setting the clock back gains nothing. */
  async #noteSeen() {
    if (this.serverNow() < this.#seen + SEEN_EVERY_MS) return;
    this.#seen = this.serverNow();
    await this.#note("seen", this.#seen);
  }

  #isSetBack() {
    return this.#seen - this.serverNow() > SET_BACK_MS;
  }

  /** What runs at a bed, without a name: kept readable, so that its clocks can be stopped on a locked tablet. */
  keepRunning(running) {
    return this.#note("running", running);
  }

  running() {
    return this.#recall("running");
  }

  /** What `recordLocked` needs besides the clocks. */
  async groundsForRunning(visit) {
    const { by, rulebook } = await this.#groundsOf(visit);
    return { visit, person: this.#vault.person, visitTag: await this.#vault.tag(visit), by, rulebook };
  }

  /** Saves what was done at a bed while the tablet is locked. */
  async recordLocked(specs, running) {
    const tap = moment();
    const whole = specs.map(spec => ({ by: running.by, rulebook: running.rulebook, visit: running.visit, moment: tap, ...spec }));
    whole.forEach(refuseUnclear);
    this.#saving += 1;
    try {
      await this.#outbox.saveLocked(whole, this.#skew?.skewMs ?? null, running);
      await this.#recount();
      this.#sending.saved();
    } finally {
      this.#saving -= 1;
    }
  }

  // ---- status

  get status() {
    return this.#board.status;
  }

  subscribe(listener) {
    return this.#board.subscribe(listener);
  }

  /** @returns {number} ms since 1970 on the server's clock, as last known */
  serverNow() {
    return wallMs() + (this.#skew?.skewMs ?? 0);
  }

  // ---- recording

  async record(spec) {
    return (await this.recordAll([spec]))[0];
  }

  /** Events of one moment: all are saved or none. Resolves when they are on the disk. */
  async recordAll(specs) {
    const tap = moment();
    specs.forEach(refuseUnclear);
    this.#saving += 1;
    try {
      await this.#mustBeOpen();
      if (!this.#vault.person) throw new Locked();
      const complete = await Promise.all(specs.map(spec => this.#complete(spec, tap)));
      const saved = await this.#outbox.save(complete, this.#skew?.skewMs ?? null);
      await this.#afterSaving(saved).catch(error => this.#board.set({ trouble: troubleOf(error) }));
      return saved;
    } finally {
      this.#saving -= 1;
    }
  }

  async #mustBeOpen() {
    if (await this.ready) return;
    throw new StoreTrouble("StoreBroken", "This tablet cannot save.", "Write it on paper now, and take another tablet.");
  }

  async #complete(spec, tap) {
    const { by, rulebook, packet } = await this.#groundsOf(spec.visit);
    return { by, rulebook, packet, moment: tap, ...spec };
  }

  /** Who records, and by which book: whoever has unlocked, the rulebook of the visit's own packet. */
  async #groundsOf(visit) {
    if (!this.#grounds.has(visit)) {
      const own = await this.#keeper.forVisit(visit);
      this.#grounds.set(visit, {
        by: this.#vault.person, rulebook: own?.rulebook_hash ?? null, packet: own ? keyOf(own) : null,
      });
    }
    return this.#grounds.get(visit);
  }

  async #afterSaving(saved) {
    this.#board.set({ clockSetBack: this.#isSetBack() });
    const { tablet, seq } = saved.at(-1) ?? {};
    if (tablet === this.#outbox.tablet) home.writeCanary(this.#store.house, { tablet, seq });
    await this.#recount();
    this.#spread([...new Set(saved.map(event => event.body.visit))]);
    this.#sending.saved();
  }

  #spread(visits) {
    this.#savedListeners.forEach(tell => tell({ visits }));
    this.#channel.postMessage({ visits });
  }

  /** @param {({visits}: {visits: string[]}) => void} listener */
  onSaved(listener) {
    return listenIn(this.#savedListeners, listener);
  }

  async eventsOf(visit) {
    await this.#mustBeOpen();
    return this.#vault.person ? this.#outbox.eventsOf(visit) : [];
  }

  async allEvents() {
    await this.#mustBeOpen();
    const events = this.#vault.person ? await this.#outbox.allEvents() : [];
    this.#board.set({ damaged: this.#outbox.damaged });
    return events;
  }

  // ---- sending

  tryAgain() {
    return this.#sending?.tryAgain();
  }

  #ties() {
    return {
      tell: changes => this.#board.set(changes),
      heard: reply => this.#heard(reply),
      otherHouse: reply => this.#otherHouse(reply),
      answered: (settled, batch) => this.#answered(batch),
      enclosed: batch => this.#enclosed(batch),
    };
  }

  /** What rides along with a batch: the head of the audit chain as last seen, and our verdict on visits that end in it. */
  async #enclosed(batch) {
    const head = await this.#recall("head");
    const ended = this.#read(batch).filter(event => event.kind === "visit_ended").map(event => event.visit);
    const verdicts = {};
    for (const visit of new Set(ended)) {
      const verdict = await this.#comparableVerdict(visit, batch);
      if (verdict) verdicts[visit] = verdict;
    }
    return { head, verdicts };
  }

  /** What the events of a batch say, as far as it was read here; nothing while locked. */
  #read(batch) {
    return batch.map(({ id }) => this.#outbox.readAlready(id)).filter(Boolean);
  }

  /** Only on the very events the server will then have; a judge that fails must not keep an event from being sent. */
  async #comparableVerdict(visit, batch) {
    const sending = new Set(batch.map(event => event.id));
    const events = await this.#outbox.eventsOf(visit);
    if (!events.every(event => event.answer || sending.has(event.id))) return null;
    try {
      return await this.verdictOf(visit);
    } catch (error) {
      reportError(error);
      return null;
    }
  }

  async #answered(batch) {
    await this.#recount();
    await this.#tellHandedBack();
    this.#spread([...new Set(this.#read(batch).map(event => event.visit))]);
  }

  async #heard({ json, answered, ...reply }) {
    await this.#setClock({ json, answered, ...reply });
    if (json?.revoked) await this.#wipeWhenFree();
    const changes = { lastContactAt: new Date(answered.wall).toISOString() };
    if (json?.person && json.person.id !== this.status.person?.id) changes.person = Object.freeze(json.person);
    if (json?.person === null) changes.person = null;
    await this.#vault.learn(json?.sealing);
    if (json && "revoked" in json) changes.revoked = json.revoked;
    if (json && "person" in json) changes.freshSignIn = Boolean(json.person && json.fresh_sign_in);
    if (changes.freshSignIn) this.#heardFresh = moment();
    const isEnding = await this.#signInEnds();
    if (isEnding) Object.assign(changes, { person: null, freshSignIn: false });
    if (Number.isInteger(json?.revision)) changes.newestRevision = json.revision;
    if (json?.head) await this.#note("head", json.head);
    this.#board.set(changes);
    await this.#noteSeen();
    await this.#wipeLongOver();
    await this.#tellHouse();
    // The house has ended the sign-in: who is there is asked again, once this greeting is over.
    if (isEnding && !(await this.#signInEnds())) setTimeout(() => this.#sending.wake());
    this.#refreshIfStale();
  }

  async #setClock(reply) {
    const fresh = skewFrom(reply);
    const chosen = fresh && better(this.#skew, fresh);
    if (!chosen || chosen === this.#skew) return;
    this.#skew = chosen;
    await this.#note("skew", chosen);
    this.#board.set({ skewMs: chosen.skewMs, clockSetBack: this.#isSetBack() });
  }

  /** Everything no server has taken, as text: of this house, or of another whose events lie on this tablet. */
  async exportUnsent(house = this.#store.house) {
    if (house === this.#store.house) return this.#outbox.unsentLines();
    const other = new Store(house);
    try {
      return await new Outbox(other, "").unsentLines();
    } finally {
      await other.close();
    }
  }

  // ---- two tablets, one bed

  /**
   * Tells the house that this tablet goes to a bed. Never waited for by the screens; without network it is nothing.
   * @param {string} visit @returns {Promise<{at: string, by: string?, tablet: string?, until: string} | null>} who is
   *   there already, null: nobody the house knows of
   */
  async claim(visit) {
    return (await this.#atBed("/tablet/claim", visit))?.elsewhere ?? null;
  }

  /** Nothing was begun there: the bed is free for whoever comes next. @param {string} visit */
  async leave(visit) {
    await this.#atBed("/tablet/leave", visit);
  }

  async #atBed(path, visit) {
    if (!this.#vault?.person || this.status.house !== this.#store.house) return null;
    const letter = { visit, tablet: this.#outbox.tablet, by: this.#vault.person };
    try {
      const reply = await this.#wire.post(path, letter, wire.HELLO_TIMEOUT_MS);
      return reply.status === 200 && reply.house === this.#store.house ? reply.json : null;
    } catch (error) {
      if (error instanceof wire.NotReached) return null;
      throw error;
    }
  }

  // ---- packets

  async packet() {
    await this.#mustBeOpen();
    return this.#keeper.current();
  }

  async packetFor(visit) {
    await this.#mustBeOpen();
    return this.#keeper.forVisit(visit);
  }

  /** Asks the server for the packet; two who ask at once get the same answer. */
  async refreshPacket() {
    await this.#mustBeOpen();
    this.#refreshing ??= this.#refresh().finally(() => {
      this.#refreshing = null;
    });
    return this.#refreshing;
  }

  async #refresh() {
    const packet = await this.#keeper.refresh();
    this.#channel.postMessage({ packet: true });
    await this.#packetCame(packet);
    return packet;
  }

  async #packetCame(packet) {
    this.#grounds.clear();
    this.#packetListeners.forEach(tell => tell(packet));
  }

  /** A round that cannot be fetched now is fetched at the next contact; the screens ask by `refreshPacket` to know why. */
  async #refreshIfStale() {
    // Only for whoever has unlocked, and only when the house knows the same person.
    if (!this.#vault.person || this.status.person?.id !== this.#vault.person) return;
    const packet = await this.#keeper.current();
    const { newestRevision, person } = this.status;
    const asked = `${newestRevision} ${person?.id}`;
    if (asked === this.#asked || !isStale({ packet, newest: newestRevision, person: person?.id ?? null })) return;
    const outcome = await this.refreshPacket().catch(error => error);
    if (!(outcome instanceof wire.NotReached)) this.#asked = asked; // answered, well or not: not again for the same
    if (outcome instanceof Error && !outcome.says) throw outcome;
  }

  onPacket(listener) {
    return listenIn(this.#packetListeners, listener);
  }

  async takeSpare() {
    await this.#mustBeOpen();
    return this.#keeper.takeSpare();
  }

  // ---- houses

  /** Unsent events of other houses are shown. Those left in a store that was carried over to ours come after it. */
  async #lookForOtherHouses(own) {
    const found = [];
    for (const house of (await storedHouses()).filter(each => each !== own)) {
      const unsent = await this.#unsentAt(house);
      if (unsent) found.push(Object.freeze({ house, unsent }));
    }
    this.#board.set({ otherHouses: Object.freeze(found) });
  }

  async #unsentAt(house) {
    const store = new Store(house);
    try {
      const { unsent } = await new Outbox(store, "").census();
      if (!unsent || await movedTo(store) !== this.#store.house) return unsent;
      await carryOver(store, this.#store);
      await this.#recount();
      this.#sending.saved();
      return 0;
    } finally {
      await store.close();
    }
  }

  /** Somebody signed in at a house that is not ours: a restored one takes everything over, a strange one gets nothing. */
  async #otherHouse({ house, json }) {
    if (!this.#mayLeave()) return;
    if (json?.formerly?.includes(this.#store.house)) await this.#follow(house);
    else if (this.status.unsent === 0) this.moveTo(house);
  }

  async #follow(house) {
    const next = new Store(house);
    await carryOver(this.#store, next);
    await next.close();
    this.moveTo(house);
  }

  /** Works for another house from now on; what is unsent for this one stays on the tablet and is shown. */
  moveTo(house) {
    this.#sending.stop();
    home.rememberHouse(house);
    reload();
  }

  // ---- new versions

  #mayLeave() {
    return this.#saving === 0 && this.mayReload();
  }

  /** On the person's tap. @returns {boolean} false if that would lose something, or nothing is waiting */
  takeOver() {
    return this.#mayLeave() && Boolean(this.#version?.takeOver());
  }

  // ---- reader

  onScan(listener) {
    return this.#scanner.onScan(listener);
  }

  onKey(listener) {
    return this.#scanner.onKey(listener);
  }
}

function listenIn(listeners, listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

function troubleOf(error) {
  if (!error.says) reportError(error);
  const { name, says = String(error), do_next = "Reload the page. If it stays so, take another tablet." } = error;
  return Object.freeze({ name, says, do_next });
}
