// What a locked tablet can do: be enrolled, be unlocked, give somebody a PIN, and stop what runs at a bed. It knows no
// patient. What is typed is kept only while the screen stands, and never written down.

import { needleOut, released, runningAt, isHeld } from "./vault/running.js";
import { limitsOf } from "./bedside_view.js";
import { deadlineOf } from "./good_until.js";

const FRESH = Object.freeze({ page: null, person: null, first: null, says: "", kind: null, isBusy: false });

const NOT_REACHED = "The house does not answer, so nobody can sign in now. A PIN works without it, and what is unsent stays, "
  + "sealed, and is sent later. Without a PIN: work on paper, or go where the network is.";

export class LockDesk {
  #changed;

  /** @param engine of engine.js @param moment of identifiers.js @param changed called when the screen has to be drawn */
  constructor({ engine, moment }, changed) {
    Object.assign(this, { engine, moment });
    this.#changed = changed;
    this.state = { ...FRESH };
    this.typed = "";
    this.running = null;
    this.receipt = "";
  }

  /** What runs out first of what is carried, with the zone of its clock; null where nothing does. */
  firstForLab(now = this.moment()) {
    const { lab = null } = this.running ?? {};
    const deadline = lab && deadlineOf(lab.tube, now);
    return deadline ? { ...deadline, zone: lab.zone } : null;
  }

  get status() {
    return this.engine.status;
  }

  /** Begins anew: at the start, and after every lock. */
  async begin() {
    this.state = { ...FRESH };
    this.typed = "";
    this.running = await this.engine.running();
    this.#changed();
  }

  /** Digits half typed outlive a screen that is drawn again, and nothing else. */
  type(digits) {
    this.typed = digits;
  }

  set(changes) {
    this.state = { ...this.state, ...changes };
    this.#changed();
  }

  /** Whose PIN is asked for: the one chosen, else the only one, else whoever is signed in. */
  get person() {
    const { people, person } = this.status;
    const id = this.state.person ?? (people.length === 1 ? people[0].id : person?.id);
    return people.find(each => each.id === id) ?? null;
  }

  /** Who has signed in and has no PIN here yet, or none any more. */
  get newcomer() {
    const { people, person } = this.status;
    return person && !people.some(each => each.id === person.id && !each.isGone) ? person : null;
  }

  /** To the page that asks for a password; said here when the house does not answer. @param go called when it does */
  async toSignIn(go) {
    if (this.state.isBusy) return;
    this.set({ isBusy: true, says: "" });
    await this.engine.tryAgain();
    const isAway = this.status.state === "waiting";
    this.set({ isBusy: false, says: isAway ? NOT_REACHED : "" });
    if (!isAway) go();
  }

  async enrol(code) {
    await this.#try(() => this.engine.enrol(code));
  }

  async unlock(pin) {
    if (!this.person) return this.set({ says: "Choose who you are first." });
    return this.#try(() => this.engine.unlock(this.person.id, pin));
  }

  /** The first time typed, then once more. */
  async choosePin(person, pin, weakness) {
    const { first } = this.state;
    this.typed = "";
    if (first === null) {
      const why = weakness(pin);
      return this.set(why ? { says: why } : { first: pin, says: "" });
    }
    if (pin !== first) return this.set({ first: null, says: "The two were not the same. Begin again." });
    this.state = { ...this.state, first: null };
    return this.#try(() => this.engine.setPin({ id: person.id, name: person.name }, pin));
  }

  async #try(step) {
    if (this.state.isBusy) return;
    this.typed = "";
    this.set({ isBusy: true, says: "" });
    try {
      await step();
      this.state = { ...FRESH };
    } catch (error) {
      if (!error.says) reportError(error);
      this.set({ isBusy: false, says: [error.says ?? "That did not work.", waitWords(error), error.do_next].filter(Boolean).join(" ") });
    }
  }

  // ---- what must not wait for a PIN

  /** Kept whenever it changes, so that a reload or a dead battery finds it. @param desk of desk.js */
  async keepRunning(desk) {
    const running = await this.#runningOf(desk);
    await this.engine.keepRunning(running);
  }

  async #runningOf(desk) {
    const now = this.moment();
    const unsettled = desk.packet ? desk.unsettled(now) : [];
    const stop = unsettled.find(each => isHeld([each])) ?? openVisit(desk);
    const beside = { aid: aidOf(desk), lab: desk.wantedBare(now) };
    if (!stop) return { clocks: [], sides: [], needleIn: false, visit: null, ...beside };
    const grounds = await this.engine.groundsForRunning(stop.visit.id);
    const { book } = desk.packetInUse();
    return { ...runningAt(desk.clocks(now), stop, limitsOf(book, stop.done)), ...grounds, ...beside };
  }

  tourniquetOff() {
    const acts = this.running.sides.map(side => ({ kind: "tourniquet_off", data: { side } }));
    return this.#record(acts, released(this.running), "tourniquet off");
  }

  needleOut() {
    const off = this.running.sides.map(side => ({ kind: "tourniquet_off", data: { side } }));
    const acts = [...off, { kind: "needle_out" }, { kind: "pressure_on" }];
    return this.#record(acts, needleOut(released(this.running), this.moment()), "needle out, pressure on");
  }

  /** Written down where a visit is open; what to do is shown in any case. */
  async wrong(kind) {
    this.set({ page: "aid", kind });
    if (this.running?.visit) {
      await this.#record([{ kind: "incident_opened", data: { kind } }], this.running, "that something is wrong");
    }
  }

  async #record(acts, after, words) {
    try {
      await this.engine.recordLocked(acts, this.running);
      this.running = after;
      this.receipt = `saved: ${words}`;
      await this.engine.keepRunning(after);
    } catch (error) {
      this.receipt = `${error.says ?? "Not saved."} ${error.do_next ?? "Write it on paper now."}`;
    }
    this.#changed();
  }
}

function openVisit(desk) {
  const visit = desk.packet && desk.visitInUse();
  const done = visit && desk.doneOf(visit);
  return done?.arrived && !done.ended ? { visit, done } : null;
}

const aidOf = desk => desk.packetInUse()?.book.first_aid ?? null;

const waitWords = ({ waitMs }) => (waitMs ? `The next try is taken in ${Math.ceil(waitMs / 1000)} s.` : null);
