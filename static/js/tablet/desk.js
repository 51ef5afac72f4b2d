// Between the engine and the screens: keeps the place, saves first and moves after, asks the gate before each act.

import { bedsideView, limitsOf } from "./bedside_view.js";
import { runningClocks, runsOnElsewhere, secondsOn, toneAt } from "./clocks.js";
import { isGated, lookAhead } from "./gate.js";
import { owedBy, saysWhoTookOver } from "./owed.js";
import { allowedNow, drawnHereMl } from "./blood.js";
import { noun, numbered } from "./naming.js";
import { carriedIn, firstDeadline } from "./good_until.js";
import { progress } from "./progress.js";
import { firstDifference } from "./self_test.js";
import { savedWords } from "./words.js";
import { comparable, lastMoment, situationOf } from "./situation.js";
import { pressing } from "./windows.js";

const UNDO_MS = 10_000;
const NAMES_MOST = 4;
const NOWHERE = Object.freeze({ visit: null, over: [], cautionsSeen: null });

export class Desk {
  #changed = () => {};
  #claimed = new Map();
  #drafts = new Map();
  #done = new WeakMap();
  #faults = new Map();
  #judged = { key: null, verdict: null };
  #saving = false;

  /** @param engine of engine.js @param judge of judge.js @param moment of identifiers.js */
  constructor({ engine, judge, moment, newId }) {
    Object.assign(this, { engine, judge, moment, newId });
    this.packet = null;
    this.packets = new Map();
    this.events = new Map();
    this.place = { ...NOWHERE };
    this.last = null;
    this.trouble = null;
    this.refreshSays = "";
  }

  // ---- loading

  /** Reads everything the tablet holds. @param changed called when the screen has to be drawn again */
  async open(changed) {
    this.#changed = changed;
    this.place = { ...NOWHERE, ...(await this.engine.drafts.read("place")) };
    this.packet = await this.engine.packet();
    for (const event of await this.engine.allEvents()) this.#take(event);
    for (const visit of this.events.keys()) await this.#readDraft(visit);
    for (const visit of this.events.keys()) if (!this.#isCarried(visit)) await this.#pin(visit);
    if (this.place.visit) await this.#pin(this.place.visit);
    this.engine.onSaved(({ visits }) => this.#reread(visits));
    this.engine.onPacket((packet) => this.#packetCame(packet));
  }

  /** @returns whether it was new to this desk */
  #take({ id, tablet, seq, body, answer }) {
    const event = { ...body, id, tablet, seq, answer };
    const known = this.events.get(event.visit) ?? [];
    const isNew = !known.some((each) => each.id === id);
    this.events.set(
      event.visit,
      [...known.filter((each) => each.id !== id), event].sort((a, b) => a.seq - b.seq),
    );
    return isNew;
  }

  // What this desk itself has just saved is on the screen already: drawing it anew could take a button from under a finger.
  async #reread(visits) {
    let isNews = false;
    for (const visit of visits) for (const event of await this.engine.eventsOf(visit)) isNews = this.#take(event) || isNews;
    if (isNews && !this.#saving) this.#changed();
  }

  // Whoever stands at a door sees the new orders at once; only what has begun keeps the packet it began with.
  #packetCame(packet) {
    this.packet = packet;
    for (const visit of this.packets.keys())
      if (!this.events.has(visit) && this.#isCarried(visit)) this.packets.set(visit, packet);
    this.#changed();
  }

  async #readDraft(visit) {
    this.#drafts.set(visit, (await this.engine.drafts.read(`visit:${visit}`)) ?? {});
  }

  // A visit under way keeps the packet it began with.
  async #pin(visit) {
    this.packets.set(visit, (await this.engine.packetFor(visit)) ?? this.packet);
    if (!this.#drafts.has(visit)) await this.#readDraft(visit);
  }

  #isCarried(visit) {
    return Boolean(this.packet?.visits.some((each) => each.id === visit));
  }

  /** The stops of the round, and visits begun here that a newer packet no longer names: they do not vanish. */
  stops() {
    const begun = [...this.packets].filter(([visit]) => !this.#isCarried(visit) && this.events.has(visit));
    const kept = begun
      .map(([visit, packet]) => packet?.visits.find((each) => each.id === visit))
      .filter(Boolean);
    const all = [...(this.packet?.visits ?? []), ...kept.filter((visit) => !this.doneOf(visit).ended)];
    return all
      .map((visit) => ({ visit, done: this.doneOf(visit) }))
      .sort((a, b) => a.visit.position - b.visit.position);
  }

  // ---- what must not be left alone

  /** The beds where something runs on or stands open: [{visit, done, owed}]. */
  unsettled(now = this.moment()) {
    return this.stops()
      .filter(({ done }) => done.arrived && !done.ended)
      .map((stop) => ({ ...stop, owed: this.#owedAt(stop, now) }))
      .filter(({ owed }) => owed.length > 0);
  }

  #owedAt({ visit, done }, now) {
    return owedBy(done, this.draftOf(visit.id), limitsOf(this.bookOf(visit.id), done), now);
  }

  /** The bed that goes first while another one is open; null when nothing stands in the way. */
  firstToSettle() {
    const here = this.visitInUse();
    if (!here || this.doneOf(here).ended) return null;
    const unsettled = this.unsettled();
    return unsettled.some(({ visit }) => visit.id === here.id) ? null : (unsettled[0] ?? null);
  }

  /** The clocks of the open bed, then those that run on at others. */
  clocks(now = this.moment()) {
    const here = this.view();
    const others = this.unsettled(now).filter(({ visit }) => visit.id !== here?.visit.id);
    return [...(here?.clocks ?? []), ...others.flatMap((stop) => this.clocksOf(stop))];
  }

  /** The clocks that run on at one bed while the tablet is elsewhere. */
  clocksOf({ visit, done }) {
    const limits = limitsOf(this.bookOf(visit.id), done);
    return runningClocks(done, limits, this.draftOf(visit.id))
      .filter(runsOnElsewhere)
      .map((clock) => ({ ...clock, key: `${visit.id} ${clock.key}`, says: `${visit.room} ${visit.bed}: ${clock.says}` }));
  }

  // ---- on the way to the laboratory

  /** Every visit this tablet has events of, also of a round before, with what was done: [{visit, done}]. */
  #begun() {
    return [...this.events.keys()].flatMap((id) => {
      const visit = this.#packetOf(id)?.visits.find((each) => each.id === id);
      return visit ? [{ visit, done: this.doneOf(visit) }] : [];
    });
  }

  /** The tubes that are filled and not handed over yet: [{visit, tube, done}]. */
  carried() {
    return this.packet ? carriedIn(this.#begun()) : [];
  }

  /** How many tubes were handed over, of all that this tablet knows. */
  handedOver() {
    return this.#begun().flatMap(({ done }) => done.tubes.filter((tube) => tube.handedOver)).length;
  }

  /** Who took tubes before, the latest first. */
  takenBy() {
    const names = this.#begun().flatMap(({ done }) => done.tubes.map((tube) => tube.handedOver?.data.to?.name));
    return [...new Set(names.filter(Boolean).reverse())].slice(0, NAMES_MOST);
  }

  /** What runs out first of all that is carried: {what, by, leftS, tone, tubes}, or null. */
  firstForLab(now = this.moment()) {
    return firstDeadline(this.carried(), now);
  }

  /** The tube that is wanted first, with nothing of whose it is: what a locked tablet goes on counting; or null. */
  wantedBare(now) {
    const { tubes: [tube] = [] } = this.firstForLab(now) ?? {};
    if (!tube) return null;
    const { at, page, mono_ms } = tube.filled;
    return { zone: this.packet.zone, tube: { filled: { at, page, mono_ms }, good: { clocks: tube.good.clocks } } };
  }

  // ---- blood

  /** mL this tablet drew from the same patient at other visits, beyond what the packet counts. */
  drawnHere(visit) {
    return drawnHereMl(this.#begun(), visit, this.#packetOf(visit.id), this.engine.status.skewMs ?? 0);
  }

  /** What may be drawn at this visit now, or null where nothing limits it; see blood.js. */
  allowed(visit) {
    return allowedNow(visit, this.drawnHere(visit));
  }

  // ---- supplies

  /** What of the list is packed already, for this round alone. */
  packed() {
    const { packed = null } = this.place;
    return packed?.round === this.#roundId() ? packed.items : [];
  }

  /** Ticks one line of the list, or takes the tick away. */
  pack(item) {
    const before = this.packed();
    const items = before.includes(item) ? before.filter((each) => each !== item) : [...before, item];
    this.keep({ packed: { round: this.#roundId(), items } });
  }

  #roundId() {
    return this.packet?.round?.id ?? this.packet?.id ?? null;
  }

  // ---- notes

  /** Every note not complete yet, of this round and of visits that are over: [{visit, incident}]. */
  openNotes() {
    return [...this.events.keys()].flatMap((id) => {
      const visit = this.#packetOf(id)?.visits.find((each) => each.id === id);
      return visit ? this.doneOf(visit).unwritten.map((incident) => ({ visit, incident })) : [];
    });
  }

  /** To the one open note, or to the list of them; from there it goes back to where we are. */
  openNotesPage() {
    const notes = this.openNotes();
    return notes.length === 1 ? this.openNote(notes[0]) : this.openPage("notes");
  }

  async openNote({ visit, incident }) {
    const returnTo = { visit: this.place.visit, over: this.place.over.filter((page) => page.name !== "notes") };
    await this.#pin(visit.id);
    this.#move({ visit: visit.id, over: [{ name: "note", opened: incident.event.id, returnTo }] });
  }

  /** Away from a note. @param written whether what lay under it is done with, too */
  leaveNote(written = false) {
    const { returnTo } = this.place.over.at(-1) ?? {};
    return returnTo ? this.#move(returnTo) : this.closePage(written);
  }

  // ---- where we are

  /** Goes to a visit's door, or on with it. */
  async goTo(visit) {
    await this.#pin(visit);
    this.#move({ visit, over: [] });
    this.#claim(visit).catch(reportError);
  }

  // Asked on the way to the door and not waited for: a tablet without network goes on.
  async #claim(visit) {
    const there = await this.engine.claim(visit);
    const before = this.#claimed.get(visit) ?? null;
    this.#claimed.set(visit, there);
    if ((there || before) && !this.events.has(visit)) this.#changed();
  }

  /** Back to the corridor; an unfinished visit stays open there. Not from what must not be left alone. */
  leaveVisit() {
    const open = this.view();
    if (open?.owed.length) return this.openPage("unfinished", { ending: null });
    return this.leaveAllTheSame();
  }

  /** Somewhere else it is worse: the bed stays first on the round until it is settled. */
  leaveAllTheSame() {
    const { visit } = this.place;
    if (visit && !this.events.has(visit)) this.engine.leave(visit).catch(reportError);
    this.#move({ visit: null, over: [] });
  }

  /** Lays a page over the current one; it stays there through a reload. */
  openPage(name, params = {}) {
    this.#move({ over: [...this.place.over, { name, ...params }] });
  }

  /** Takes the topmost page away, or all of them. */
  closePage(all = false) {
    this.#move({ over: all ? [] : this.place.over.slice(0, -1) });
  }

  /** Changes the topmost page's own half-made entries; without `redraw` while somebody types. */
  setPage(changes, redraw = true) {
    const top = { ...this.place.over.at(-1), ...changes };
    this.place = { ...this.place, over: [...this.place.over.slice(0, -1), top] };
    this.#keepPlace();
    if (redraw) this.#changed();
  }

  cautionsSeen() {
    this.#move({ cautionsSeen: this.cautionsKey() });
  }

  /** The cautions are shown once to each person with each packet. */
  cautionsKey() {
    return this.packet ? `${this.packet.id} ${this.packet.by ?? ""}` : null;
  }

  #move(changes) {
    // What was saved at one bed is not said at the next one.
    if (changes.visit && this.last && this.last.visit !== changes.visit) this.last = null;
    this.place = { ...this.place, ...changes };
    this.#keepPlace();
    this.#changed();
  }

  #keepPlace() {
    this.engine.drafts.save("place", this.place).catch((error) => this.#failed(error));
  }

  // ---- drafts

  draftOf(visit) {
    return this.#drafts.get(visit) ?? {};
  }

  /** Keeps half-made entries of the visit, so that a reload costs nothing. */
  setDraft(changes, redraw = true) {
    const visit = this.place.visit;
    const draft = { ...this.draftOf(visit), ...changes };
    this.#drafts.set(visit, draft);
    this.engine.drafts.save(`visit:${visit}`, draft).catch((error) => this.#failed(error));
    if (redraw) this.#changed();
  }

  /** A setting of this tablet, kept with the place. */
  keep(changes) {
    this.#move(changes);
  }

  /** What was recorded for a visit that is over. */
  async openStory(visit) {
    await this.#pin(visit);
    this.#move({ visit, over: [] });
  }

  redraw() {
    this.#changed();
  }

  /** Locks the tablet; app.js says how. */
  lock = async () => {};

  /** Asks the server for the packet; what came of it is said on screen. */
  async refresh() {
    try {
      await this.engine.refreshPacket();
      this.refreshSays = "";
    } catch (error) {
      const { says = "The server did not answer.", do_next: doNext = "It is tried again by itself." } = error;
      this.refreshSays = `${says} ${doNext}`;
    }
    this.#changed();
  }

  /** Something to be read before going on. */
  say(says, doNext) {
    this.trouble = { says, doNext, what: "" };
    this.#changed();
  }

  // ---- acts

  /**
   * Records what was just done, after the gate has been asked. The screen moves only when it is saved.
   * @param acts [{kind, data}], one moment @param then changes to the visit's draft, made with it
   * @param faced whether the ways to finish a visit first have been shown
   */
  async act(acts, then = null, { faced = false } = {}) {
    if (this.#saving) return;
    const tap = this.moment();
    if (!faced && acts.some(({ kind }) => kind === "visit_ended") && this.view()?.owed.length) {
      this.openPage("unfinished", { ending: { acts, then } });
      return;
    }
    const told = saysWhoTookOver(acts, this.draftOf(this.place.visit).takesOver);
    const found = told.some((act) => isGated(act.kind)) ? this.#ahead(told, tap) : null;
    if (found && (found.notChecked || found.stops.length || found.asks.length)) {
      this.openPage("held", { acts: told, then, tap, faced, ...found });
      return;
    }
    await this.save(told, { tap, then });
  }

  /** Asks why first, for what nothing holds up: the reason is written down with it. */
  actWithReason(acts) {
    const tap = this.moment();
    this.openPage("held", { acts, then: null, tap, faced: false, reasoning: true, ...this.#ahead(acts, tap, () => true) });
  }

  /** Writes down what was done away from any bed, each act for the visit it names; a second tap meanwhile is none. */
  async saveApart(acts, tap = this.moment()) {
    return this.#saving ? null : this.save(acts, { tap, apart: true });
  }

  /** Writes events down, whatever the rules say about them. Resolves to the saved events, or null. */
  async save(acts, { tap = this.moment(), then = null, undo = true, apart = false } = {}) {
    const visit = this.place.visit;
    this.#saving = true;
    try {
      const saved = await this.engine.recordAll(
        acts.map((act) => ({
          visit: act.visit ?? visit,
          kind: act.kind,
          data: act.data ?? {},
          moment: tap,
          ...(act.id ? { id: act.id } : {}),
        })),
      );
      for (const event of saved) this.#take(event);
      this.last = undo
        ? {
            visit: apart ? null : visit,
            events: saved.map((event) => ({ ...event.body, id: event.id })),
            monoMs: this.moment().mono_ms,
          }
        : null;
      if (then) this.setDraft(then, false);
      return saved;
    } catch (error) {
      this.#failed(error);
      return null;
    } finally {
      this.#saving = false;
      this.#changed();
    }
  }

  /** What the rules would say if this were done now. */
  ahead(acts) {
    return this.#ahead(acts, this.moment(), () => true);
  }

  #ahead(acts, tap, isAsked) {
    const { packet, situation } = this.#situation(tap);
    const by = this.packet?.by ?? null;
    return lookAhead(
      (...asked) => this.#judgeBy(packet, ...asked),
      packet.book,
      situation,
      acts.map(({ kind, data = {}, id }) => ({ visit: this.place.visit, by, ...tap, kind, data, id })),
      isAsked,
    );
  }

  #situation(tap) {
    const visit = this.visitInUse();
    const situation = situationOf(visit, this.events.get(visit.id) ?? [], tap.at);
    const allowed = this.allowed(visit);
    // What this tablet drew at another bed of the same patient counts at once, not only when the house has heard of it.
    if (allowed) situation.limits = { ...situation.limits, max_draw_ml: Math.min(situation.limits.max_draw_ml, allowed.ml) };
    return { packet: this.packetInUse(), situation };
  }

  /** What this tablet found about a visit, for the house to compare with its own; null when it cannot say. */
  async verdictOf(id) {
    const packet = withBook((await this.engine.packetFor(id)) ?? this.packet);
    const visit = packet?.visits.find((each) => each.id === id);
    if (!visit || this.#faultOf(packet)) return null;
    await this.#reread([id]);
    const events = this.events.get(id) ?? [];
    return comparable(this.judge(packet.book, situationOf(visit, events, lastMoment(events))));
  }

  /** Takes the last act back while ten seconds have not passed: each of its events is struck. */
  async undo() {
    const last = this.last;
    if (!last) return;
    // What was saved from a page of the tablet, for several beds, leaves us where we are.
    if (last.visit !== null) this.place = { ...this.place, visit: last.visit, over: [] };
    await this.save(
      last.events.map((event) => ({
        visit: event.visit,
        kind: "corrected",
        data: { event: event.id, data: null, reason: "taken back at once" },
      })),
      { undo: false },
    );
  }

  /** What was saved last and whether it can still be taken back. */
  receipt() {
    if (!this.last) return { says: "", onUndo: null };
    const here = new Map((this.view()?.done.tubes ?? []).map((each) => [each.id, numbered(each)]));
    const away = new Map(this.#begun().flatMap(({ done }) => done.tubes.map((each) => [each.id, noun(each)])));
    const called = (id) => here.get(id) ?? away.get(id);
    const words = this.last.events.map((event) => savedWords(event, called(event.data?.tube)));
    const all = words.join(", ");
    const says = all.length > 44 && words.length > 1 ? `${words[0]} and ${words.length - 1} more` : all;
    const fresh = this.moment().mono_ms - this.last.monoMs < UNDO_MS;
    return { says: `saved: ${says}`, onUndo: fresh ? () => this.undo() : null };
  }

  #failed(error) {
    this.trouble = {
      says: error.says ?? "This was not saved.",
      doNext: error.do_next ?? "Write it on paper now, and take another tablet.",
      what: String(error.message ?? error),
    };
    this.#changed();
  }

  troubleSeen() {
    this.trouble = null;
    this.#changed();
  }

  // ---- reading

  packetInUse() {
    return withBook((this.place.visit && this.packets.get(this.place.visit)) ?? this.packet);
  }

  visitInUse() {
    return this.packetInUse()?.visits.find((visit) => visit.id === this.place.visit) ?? null;
  }

  /** Progress of any visit. Read anew only when something was saved, or the visit or the person is another. */
  doneOf(visit) {
    const events = this.events.get(visit.id) ?? NO_EVENTS;
    const me = this.packet?.by ?? null;
    const known = this.#done.get(visit);
    if (known?.events === events && known.me === me) return known.done;
    const done = progress(events, visit, me, this.bookOf(visit.id));
    this.#done.set(visit, { events, me, done });
    return done;
  }

  #packetOf(visit) {
    return withBook(this.packets.get(visit) ?? this.packet);
  }

  /** The rules a visit goes by. @param visit its id */
  bookOf(visit) {
    return this.#packetOf(visit).book;
  }

  /**
   * What another tablet did at this bed, as the house told last: claimed it, begun, or ended. Null where this one has
   * begun.
   */
  elsewhere(visit) {
    if (this.events.has(visit.id)) return null;
    const told = this.packet?.visits.find((each) => each.id === visit.id) ?? visit;
    return told.ended ? { ...told.begun, ...told.ended } : (told.begun ?? this.#claimOn(visit.id));
  }

  #claimOn(visit) {
    const claim = this.#claimed.get(visit) ?? null;
    return claim && Date.parse(claim.until) > this.engine.serverNow() ? { ...claim, claimed: true } : null;
  }

  /** Everything a bedside screen may look at; null when no visit is open. */
  view() {
    const packet = this.packetInUse();
    const visit = packet && this.visitInUse();
    if (!visit) return null;
    const now = this.moment();
    const done = this.doneOf(visit);
    return bedsideView({
      packet,
      visit,
      done,
      now,
      houseMs: this.engine.serverNow(),
      allowed: this.allowed(visit),
      draft: this.draftOf(visit.id),
      verdict: this.#verdict(now),
      elsewhere: this.elsewhere(visit),
    });
  }

  // Judged again only when an event came or a clock passed a mark: the key says which.
  #verdict(now) {
    const events = this.events.get(this.place.visit) ?? [];
    const key = `${this.place.visit} ${events.length} ${events.at(-1)?.id ?? ""} ${Math.floor(now.mono_ms / 1000)}`;
    if (this.#judged.key !== key) this.#judged = { key, verdict: this.#judgeNow(now) };
    return this.#judged.verdict;
  }

  #judgeNow(now) {
    const { packet, situation } = this.#situation(now);
    if (this.#faultOf(packet)) return null;
    try {
      return this.judge(packet.book, situation);
    } catch (error) {
      reportError(error);
      return null;
    }
  }

  // Rules that answer otherwise than the house's are not asked: what they say would not be worth more than nothing.
  #judgeBy(packet, book, situation) {
    const fault = this.#faultOf(packet);
    if (fault) throw new Error(`The rules did not pass their self-test: ${fault.name}`);
    return this.judge(book, situation);
  }

  /** {name, why} when the rules in use did not pass their self-test, else null. */
  rulesFault() {
    const packet = this.packetInUse();
    return packet ? this.#faultOf(packet) : null;
  }

  // Tried once for each packet and each start of the app: new rules and a new build are both tried before they guide.
  #faultOf(packet) {
    const key = `${packet.id} ${packet.revision} ${packet.rulebook_hash}`;
    if (!this.#faults.has(key)) {
      this.#faults.set(key, firstDifference(this.judge, packet.book, packet.self_test));
    }
    return this.#faults.get(key);
  }

  /** Whether the open visit has begun: it may be finished, whatever the rules are worth. */
  isUnderWay() {
    const visit = this.visitInUse();
    return Boolean(visit && this.doneOf(visit).arrived);
  }

  // The minutes count by themselves; what changes here is what a clock is called.
  #timesKey(now) {
    const { book } = withBook(this.packet);
    const first = this.firstForLab(now);
    if (this.place.visit) return `${first?.what} ${first?.tone}`;
    const states = this.stops().map(({ visit }) => pressing(visit, this.engine.serverNow(), book)[0]?.state);
    return `${first?.what} ${first?.tone} ${states}`;
  }

  /** Changes when a screen would look different although nothing was recorded: a clock passed a mark. */
  clockKey() {
    if (!this.packet) return "";
    const now = this.moment();
    const marks = this.clocks(now).map((clock) => markReached(clock, secondsOn(clock, now)));
    return `${marks.join()} ${this.unsettled(now).map(({ visit, owed }) => `${visit.id} ${owed.length}`)} ${this.#timesKey(now)}`;
  }
}

const NO_EVENTS = Object.freeze([]);

const markReached = (clock, seconds) => `${clock.key} ${toneAt(clock, seconds)} ${seconds >= clock.limit}`;

// The rulebook travels as text, so that its bytes stay what was hashed; it is parsed once a packet.
const books = new WeakMap();
function withBook(packet) {
  if (!packet) return null;
  if (!books.has(packet)) books.set(packet, { ...packet, book: JSON.parse(packet.rulebook) });
  return books.get(packet);
}
