// Draws what the desk says, and nothing else: one screen at a time, head and clocks always.

import { LockDesk } from "./lock_desk.js";
import { lockWarning } from "./parts/lock_warning.js";
import { clockBand } from "./parts/strap.js";
import { headBar, receiptLine, stage } from "./parts/frame.js";
import { alarmTick, readySound } from "./parts/alarm.js";
import { clockTime } from "./parts/when.js";
import { cautions } from "./screens/cautions.js";
import { enrol } from "./screens/enrol.js";
import { round } from "./screens/round.js";
import { rulesRefused } from "./screens/rules_refused.js";
import { settleFirst } from "./screens/settle_first.js";
import { broken, missing, noPacket, notSaved } from "./screens/trouble.js";
import { PAGES, STEPS, TABLET_PAGES } from "./screens/index.js";
import { locked } from "./screens/unlock.js";
import { spokenName } from "./screens/common.js";
import { headWords } from "./screens/lab_words.js";
import { WARN_S, idleSeconds, secondsLeft } from "./vault/idle.js";
import { isHeld } from "./vault/running.js";

const TICK_MS = 200;
// How long something said in passing stands.
const PASSING_MS = 4000;
// A second touch of the same knuckle must not hit the button that has just taken the first one's place.
const SETTLE_MS = 320;
// So long at most a screen waits for a finger to leave, and so long for the tap that the leaving finger makes.
const PRESS_MS = 3000;
const TAP_MS = 60;

export class App {
  #drawn = { name: null, acts: null, key: "" };
  #receipt = receiptLine();
  #clocks = null;
  #endScan = null;
  #passing = null;
  #pressedAt = null;
  #isHeldBack = false;
  #warning = lockWarning();
  #touched = null;
  #lockKey = null;
  #kept = null;
  #locking = false;

  /**
   * @param root the element to draw into @param makeDesk makes a desk of desk.js: one for each time the tablet is unlocked,
   *   so that nothing of a patient outlives the lock @param engine of engine.js @param moment of identifiers.js
   */
  constructor(root, makeDesk, engine, moment) {
    Object.assign(this, { root, makeDesk, engine, moment });
    this.desk = makeDesk();
    this.lockDesk = new LockDesk({ engine, moment }, () => this.draw());
    this.#touched = moment();
  }

  /** Whether somebody has unlocked the tablet, and what it holds for them has been read. */
  get isOpen() {
    return this.engine.status.lock === "open" && this.#lockKey === "open";
  }

  /** Begins: reads what the tablet holds, then draws whenever something changes. */
  async start() {
    if (this.engine.missing.length) return this.#show(missing(this.engine.missing));
    this.root.addEventListener("pointerdown", readySound, { once: true });
    for (const touch of ["pointerdown", "keydown", "input"]) {
      addEventListener(touch, () => this.#touch(), { capture: true });
    }
    this.#watchFinger();
    document.addEventListener("visibilitychange", () => this.#tick());
    this.engine.subscribe((status) => this.#follow(status));
    await this.engine.ready;
    this.draw();
    setInterval(() => this.#tick(), TICK_MS);
    return undefined;
  }

  // A button drawn anew under a finger would lose its tap: the screen waits until the finger has left.
  #watchFinger() {
    const released = () => this.#released();
    addEventListener("pointerdown", ({ isTrusted }) => isTrusted && (this.#pressedAt = this.moment().mono_ms), { capture: true });
    addEventListener("click", () => setTimeout(released), { capture: true });
    addEventListener("pointerup", () => setTimeout(released, TAP_MS), { capture: true });
    addEventListener("pointercancel", released, { capture: true });
  }

  get #isPressed() {
    return this.#pressedAt !== null && this.moment().mono_ms - this.#pressedAt < PRESS_MS;
  }

  #released() {
    this.#pressedAt = null;
    if (this.#isHeldBack) this.draw();
  }

  // ---- locked and unlocked

  // The lock decides which desk there is: a new one for whoever unlocks, an empty one while nobody has.
  async #follow(status) {
    if (status.lock === null) return this.#headOnly(); // no store yet, or none at all
    const key = status.lock === "open" ? "open" : lockKeyOf(status);
    if (key === this.#lockKey || (key === "open" && this.#lockKey === "opening")) return this.isOpen ? this.#headOnly() : undefined;
    if (key === "open") return this.#open();
    const before = this.#lockKey;
    this.#lockKey = key;
    // The same lock, told anew: what is being typed or read on it stays.
    if (before?.startsWith(key.slice(0, key.indexOf(",")))) return this.draw();
    this.#forget();
    return this.lockDesk.begin();
  }

  async #open() {
    this.#lockKey = "opening";
    const desk = this.makeDesk();
    desk.lock = () => this.lock();
    await desk.open(() => this.draw());
    if (this.engine.status.lock !== "open") return;
    this.desk = desk;
    this.#lockKey = "open";
    this.#touched = this.moment();
    this.draw();
  }

  #forget() {
    this.desk = this.makeDesk();
    this.#passing = null;
    this.#warning.show(null);
  }

  // The warning goes with the next tick, not under the finger: the touch must not hit what lies beneath it.
  #touch() {
    this.#touched = this.moment();
  }

  /** Locks now; what runs at a bed stays on the screen, without a name. */
  async lock() {
    if (this.#locking) return;
    this.#locking = true;
    await this.lockDesk.keepRunning(this.desk).catch(reportError);
    this.engine.lock(); // not while something is being saved: the next tick tries again
    this.#locking = false;
  }

  // Nobody has touched it for a while: first a warning, then the lock. Hands that are full keep it open longer.
  #watchIdle(now) {
    if (!this.isOpen) return;
    const idle = idleSeconds(this.#touched, now);
    if (secondsLeft(idle, false) > WARN_S) return this.#warning.show(null);
    const left = secondsLeft(idle, this.desk.packet ? isHeld(this.desk.unsettled(now)) : false);
    this.#warning.show(left <= WARN_S ? Math.max(0, Math.ceil(left)) : null);
    if (left <= 0) this.lock();
    return undefined;
  }

  // What runs is written down whenever it changes, so that a dead battery or a reload finds it.
  #keepRunning() {
    if (!this.isOpen) return;
    const open = this.desk.packet ? this.desk.unsettled(this.moment()) : [];
    const wanted = this.desk.packet ? this.desk.firstForLab()?.by : null;
    const owes = open.map(({ visit, owed }) => [visit.id, owed.map(({ code }) => code)]);
    const key = JSON.stringify([this.desk.place.visit, wanted, owes]);
    if (key === this.#kept) return;
    this.#kept = key;
    this.lockDesk.keepRunning(this.desk).catch(reportError);
  }

  /** Draws the screen anew. One that cannot be drawn says so, and leaves a way out: the record goes on elsewhere. */
  draw() {
    if (this.#lockKey === "opening") return;
    this.#isHeldBack = this.#isPressed;
    if (this.#isHeldBack) return;
    try {
      this.#show(this.#screen());
      this.#keepRunning();
    } catch (error) {
      reportError(error);
      this.#show(broken(this.desk, error));
    }
  }

  #screen() {
    const { desk } = this;
    const { lock } = this.engine.status;
    if (lock === "not-enrolled") return enrol(this.lockDesk);
    if (lock === "locked") return locked(this.lockDesk);
    if (desk.trouble) return notSaved(desk);
    const page = desk.place.over.at(-1) ?? null;
    if (page && TABLET_PAGES[page.name]) return TABLET_PAGES[page.name](desk, page);
    if (!desk.packet) return noPacket(desk);
    if (desk.place.cautionsSeen !== desk.cautionsKey()) return cautions(desk);
    if (desk.rulesFault() && !desk.isUnderWay()) return rulesRefused(desk);
    const view = desk.view();
    if (!view) return round(desk);
    const first = page?.name === "note" ? null : desk.firstToSettle();
    if (first) return settleFirst(desk, first);
    return page && PAGES[page.name] ? PAGES[page.name](view, desk, page) : STEPS[view.step](view, desk);
  }

  #show(screen) {
    const before = keepsake(this.root, screen.name === this.#drawn.name);
    const view = this.desk.packet && !this.engine.missing.length ? this.desk.view() : null;
    const clocks = this.desk.packet && !this.engine.missing.length ? this.desk.clocks() : [];
    const running = this.isOpen ? clocks : (this.lockDesk.running?.clocks ?? clocks);
    this.#clocks = running.length ? clockBand(running, this.moment()) : null;
    this.#listen(screen.onScan ?? null);
    const framed = stage(this.root, {
      head: this.#head(view),
      clocks: this.#clocks,
      screen,
      receipt: this.#receipt,
    });
    framed.append(this.#warning);
    this.#settle(framed, screen);
    this.#drawn = { name: screen.name, acts: actsOf(screen), key: this.desk.clockKey() };
    this.#showReceipt();
    giveBack(this.root, before);
  }

  #settle(framed, screen) {
    const acts = framed.querySelector(".acts");
    if (!acts || this.#drawn.acts === actsOf(screen)) return;
    acts.inert = true;
    setTimeout(() => {
      acts.inert = false;
    }, SETTLE_MS);
  }

  #notTaken() {
    this.#passing = {
      says: "that scan was not taken: nothing is read here",
      until: this.desk.moment().mono_ms + PASSING_MS,
    };
    this.#showReceipt();
  }

  #showReceipt() {
    const isFresh = this.#passing && this.desk.moment().mono_ms < this.#passing.until;
    this.#receipt.show(isFresh ? { says: this.#passing.says, onUndo: null } : this.desk.receipt());
  }

  #listen(onScan) {
    this.#endScan?.();
    // A scan nobody waits for is swallowed: its Enter must not press whatever has the focus.
    this.#endScan = this.engine.onScan(onScan ?? (() => this.#notTaken()));
  }

  #head(view) {
    const { desk } = this;
    const { status } = this.engine;
    const who = desk.packet?.people?.[desk.packet.by]?.short ?? "";
    const settled = view && (view.done.band.record_number || view.done.needle) && !["identity_stop", "no_band", "not_checked"].includes(view.step);
    return headBar({
      where: view
        ? `Room ${view.visit.room} · bed ${view.visit.bed}`
        : (desk.packet?.round?.name ?? "Bedside"),
      name: settled ? spokenName(view.patient.name) : null,
      onWhere: view ? () => desk.openPage("story") : null,
      onRound: view && !view.done.ended ? () => desk.leaveVisit() : null,
      lab: this.#lab(view),
      notes: desk.packet ? desk.openNotes().length : 0,
      onNotes: () => desk.openNotesPage(),
      right: [
        desk.packet && (isOld(desk, status) || !this.#lab(view))
          ? {
              says: `orders ${clockTime(desk.packet.made_at, desk.packet.zone)}`,
              look: isOld(desk, status) ? "act" : "plain",
            }
          : null,
        { says: lineWords(status), look: lineLook(status) },
        who ? { says: who } : null,
      ].filter(Boolean),
      onRight: status.lock === "open" ? () => desk.openPage("this_tablet") : null,
    });
  }

  // A tube whose time gets short is told wherever one is; not twice, and with a needle in it neither reddens nor leads away.
  #lab(view) {
    const { desk, lockDesk } = this;
    const page = desk.place.over.at(-1)?.name ?? null;
    if (this.isOpen && (["to_lab", "hand_over"].includes(page) || (!view && !page))) return null;
    const first = (instant) => (this.isOpen ? desk.firstForLab(instant) : lockDesk.firstForLab(instant));
    const tone = first()?.tone ?? "calm";
    if (tone === "calm") return null;
    const isBusy = this.isOpen && isHeld(desk.unsettled());
    const told = (instant) => {
      const now = first(instant);
      const words = now && headWords(now, now.zone ?? desk.packet.zone);
      return words && isBusy ? { ...words, look: "plain" } : words;
    };
    return { ...told(this.moment()), live: told, act: this.isOpen && !isBusy ? () => desk.openPage("to_lab") : null };
  }

  #headOnly() {
    const head = this.root.querySelector(".head");
    if (!head) return;
    if (this.#isPressed || this.#drawn.name === "no_packet" || this.#drawn.name === "this_tablet") return void this.draw();
    head.replaceWith(this.#head(this.desk.packet ? this.desk.view() : null));
  }

  #tick() {
    const now = this.moment();
    this.#watchIdle(now);
    this.#clocks?.tick(now);
    for (const live of this.root.querySelectorAll("[data-live]")) live.tick(now);
    this.#showReceipt();
    if (this.#clocks?.dataset.tone === "stop") alarmTick(now.mono_ms, this.desk.place.sound !== "off");
    if (this.#isHeldBack || (this.desk.clockKey() !== this.#drawn.key && !isTyping(this.root))) this.draw();
  }
}

/** What a locked screen is drawn from: when it changes, it is drawn anew; what is being typed is not lost to anything else. */
const lockKeyOf = ({ lock, people, person, freshSignIn, revoked, clockSetBack, handedBack }) =>
  JSON.stringify([lock, people.map(({ id, isGone }) => [id, isGone]), person?.id, freshSignIn, revoked, clockSetBack, handedBack]);

/** How it stands between this tablet and the house, in a few words; what has to be known first comes first. */
function lineWords({ revoked, state, unsent }) {
  if (revoked) return "out of use";
  if (state === "other-house") return "another house answers";
  // Nobody is signed in: an enrolled tablet sends all the same, and only new orders wait.
  if (state === "sign-in") return unsent ? `${unsent} unsent, sign in` : "all sent, sign in";
  return unsent ? `${unsent} unsent` : "all sent";
}

function lineLook({ revoked, heldBack, state }) {
  if (revoked || heldBack || state === "no-store") return "stop";
  return ["sign-in", "other-house"].includes(state) ? "act" : "plain";
}

/** What can be touched under the thumb, in words: when it changes, nothing is taken for a moment. */
const actsOf = ({ main, row }) => [main, ...(row ?? [])].map((action) => action?.says ?? "").join("|");

const isOld = (desk, status) => (status.newestRevision ?? 0) > desk.packet.revision;

const isTyping = (root) =>
  Boolean(root.contains(document.activeElement) && document.activeElement.matches("input, textarea"));

// Where the eye and the focus were, to be given back when the same screen is drawn again.
function keepsake(root, same) {
  const touchable = [...root.querySelectorAll("button, input, textarea, a")];
  const field = document.activeElement?.matches?.("input, textarea") ? document.activeElement : null;
  return {
    same,
    scroll: root.querySelector(".body")?.scrollTop ?? 0,
    focus: touchable.indexOf(document.activeElement),
    caret: field?.selectionStart ?? null,
  };
}

function giveBack(root, before) {
  if (!before.same) return root.querySelector(".sentence")?.focus({ preventScroll: true });
  const body = root.querySelector(".body");
  if (body) body.scrollTop = before.scroll;
  const touchable = [...root.querySelectorAll("button, input, textarea, a")];
  const focused = touchable[before.focus];
  focused?.focus({ preventScroll: true });
  if (before.caret !== null && focused?.setSelectionRange)
    focused.setSelectionRange(before.caret, before.caret);
  return undefined;
}
