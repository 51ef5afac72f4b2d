// What the engine knows, for whoever wants to show it: one frozen object, told to all on every change.

/** @type {Readonly<Record<string, any>>} */
const AT_START = Object.freeze({
  state: "first-contact",
  unsent: 0,
  oldestUnsentAt: null,
  setAside: 0,
  heldBack: 0,
  lastContactAt: null,
  retryAt: null,
  skewMs: null,
  newestRevision: null,
  person: null,
  house: null,
  tablet: null,
  otherHouses: Object.freeze([]),
  lost: null,
  trouble: null,
  update: null,
  persisted: null,
  opensOffline: null,
  lock: null,
  unlocked: null,
  people: Object.freeze([]),
  named: null,
  freshSignIn: false,
  revoked: false,
  clockSetBack: false,
  damaged: 0,
  handedBack: null,
});

export class Board {
  #listeners = new Set();
  status = AT_START;

  /** Takes what changed and tells everybody, unless nothing did. @param {Partial<typeof AT_START>} changes */
  set(changes) {
    const isNew = Object.entries(changes).some(([field, value]) => this.status[field] !== value);
    if (!isNew) return;
    this.status = Object.freeze({ ...this.status, ...changes });
    this.#listeners.forEach(tell => tell(this.status));
  }

  /** @param {(status: typeof AT_START) => void} listener told at once and on every change @returns {() => void} */
  subscribe(listener) {
    this.#listeners.add(listener);
    listener(this.status);
    return () => this.#listeners.delete(listener);
  }
}
