// IndexedDB: the only module that touches it. Saved means committed to disk: a write resolves on `complete` of a
// transaction with strict durability, never on the success of one request.

/** What the screens can say when a save fails. `says` is what happened, `do_next` is the way out. */
export class StoreTrouble extends Error {
  /** @param {string} name @param {string} says @param {string} do_next @param {unknown} [cause] */
  constructor(name, says, do_next, cause) {
    super(says, { cause });
    this.name = name;
    this.says = says;
    this.do_next = do_next;
  }
}

const quotaFull = cause => new StoreTrouble("QuotaFull", "This tablet is full. Nothing was saved.",
  "Write it on paper now. Then bring the tablet to the network so that it can send, and free some space.", cause);
const storeBroken = cause => new StoreTrouble("StoreBroken", "This tablet could not save. Nothing was saved.",
  "Write it on paper now, then reload the page. If it happens again, take another tablet.", cause);
const storeBlocked = () => new StoreTrouble("StoreBlocked", "Another window of this app holds the storage.",
  "Close the other windows of this app on this tablet.");
const storeOutdated = () => new StoreTrouble("StoreOutdated", "A newer version of this app runs in another window.",
  "Reload this page.");

export const VERSION = 2;

/** A blocked upgrade reports itself only to the first who asks; later ones would wait without a word. */
const BLOCKED_AFTER_MS = 1500;

/**
 * Steps from one shipped version to the next. A store with unsent events is never dropped. The second one lets go of what
 * lay here readable: the packet is fetched again, and what the house has already.
 */
const UPGRADES = [
  db => {
    const events = db.createObjectStore("events", { keyPath: "id" });
    events.createIndex("by_order", ["tablet", "seq"], { unique: true });
    events.createIndex("by_visit", "visit");
    events.createIndex("by_answer", "answer.status");
    const outbox = db.createObjectStore("outbox", { keyPath: "id" });
    outbox.createIndex("by_order", ["tablet", "seq"], { unique: true });
    db.createObjectStore("meta", { keyPath: "key" });
    db.createObjectStore("packets", { keyPath: "key" });
    db.createObjectStore("pins", { keyPath: "visit" });
    db.createObjectStore("spares_taken", { keyPath: "specimen" });
    db.createObjectStore("drafts", { keyPath: "key" });
  },
  (db, transaction) => {
    db.createObjectStore("people", { keyPath: "id" });
    db.createObjectStore("rounds", { keyPath: "kid" }).createIndex("by_person", "person");
    for (const name of ["packets", "pins", "spares_taken", "drafts"]) transaction.objectStore(name).clear();
    transaction.objectStore("meta").delete("packet");
    dropAnswered(transaction);
  },
];

function dropAnswered(transaction) {
  got(transaction.objectStore("events").getAll(), rows => {
    for (const row of rows) if (row.answer) transaction.objectStore("events").delete(row.id);
  });
}

/** Brings a database from `from` (0: new) to VERSION. */
function upgrade(db, from, transaction) {
  for (const step of UPGRADES.slice(from)) step(db, transaction);
}

/** Names an error of IndexedDB for the screens; a mistake of the program stays what it is. */
function named(error) {
  if (!(error instanceof DOMException)) return error;
  if (error?.name === "QuotaExceededError") return quotaFull(error);
  if (error?.name === "VersionError") return storeOutdated();
  return storeBroken(error);
}

/** Reports whether a new connection may help: the browser lost the old one. */
function isLostConnection(error) {
  return ["InvalidStateError", "UnknownError"].includes(error?.name);
}

/** Refuses a body that waits for something: the transaction would end under it. */
function refuseWaiting(result) {
  if (typeof result?.then === "function") {
    throw new TypeError("The body of a transaction must not wait. Compute first, then open the transaction.");
  }
  return result;
}

/** @param {string} house @returns {string} */
export function databaseName(house) {
  return `bedside-${house}`;
}

/** @returns {Promise<string[]>} the houses this browser holds a store of; empty where it cannot tell. */
export async function storedHouses() {
  const found = await indexedDB.databases?.() ?? [];
  return found.map(each => each.name ?? "").filter(name => name.startsWith("bedside-")).map(name => name.slice(8));
}

export class Store {
  #name;
  #onTrouble;
  #opening = null;
  #outdated = false;

  /**
   * @param {string} house
   * @param {(trouble: StoreTrouble | null) => void} [onTrouble] told when another window blocks, or outdates, this one
   */
  constructor(house, onTrouble = () => {}) {
    this.house = house;
    this.#name = databaseName(house);
    this.#onTrouble = onTrouble;
  }

  /** One shared connection; a failed attempt is forgotten, so that the next call tries again. */
  open() {
    if (this.#outdated) return Promise.reject(storeOutdated());
    this.#opening ??= this.#connect().catch(error => {
      this.#opening = null;
      throw named(error);
    });
    return this.#opening;
  }

  #connect() {
    return new Promise((resolve, reject) => {
      const blocked = () => this.#onTrouble(storeBlocked());
      const slow = setTimeout(blocked, BLOCKED_AFTER_MS);
      const request = indexedDB.open(this.#name, VERSION);
      request.onblocked = blocked;
      request.onupgradeneeded = event => upgrade(request.result, event.oldVersion, request.transaction);
      request.onerror = () => {
        clearTimeout(slow);
        reject(request.error);
      };
      request.onsuccess = () => {
        clearTimeout(slow);
        this.#onTrouble(null);
        resolve(this.#watch(request.result));
      };
    });
  }

  #watch(db) {
    db.onclose = () => {
      this.#opening = null;
    };
    db.onversionchange = () => {
      this.#outdated = true;
      db.close(); // lets running transactions finish
      this.#onTrouble(storeOutdated());
    };
    return db;
  }

  /** Closes the connection; a running transaction still finishes. */
  async close() {
    const opening = this.#opening;
    this.#opening = null;
    (await opening)?.close();
  }

  /**
   * Runs `body` in one strict transaction and resolves with its result once that is committed.
   * @template T
   * @param {string[]} stores
   * @param {(open: (name: string) => IDBObjectStore, result: (value: T) => void) => void} body
   *   gives its requests inside the transaction and hands over the result by calling `result`
   * @returns {Promise<T>}
   */
  write(stores, body) {
    return this.#run(stores, "readwrite", body);
  }

  /** The same for reading. */
  read(stores, body) {
    return this.#run(stores, "readonly", body);
  }

  async #run(stores, mode, body) {
    try {
      return await transact(await this.open(), stores, mode, body);
    } catch (error) {
      if (!isLostConnection(error)) throw named(error);
    }
    return this.#again(stores, mode, body);
  }

  /** Once more over a new connection. Safe for writes: an event's id is the same, a second add changes nothing. */
  async #again(stores, mode, body) {
    this.#opening = null;
    try {
      return await transact(await this.open(), stores, mode, body);
    } catch (error) {
      throw named(error);
    }
  }
}

/** One transaction: resolves on complete, rejects on abort as well as on error. */
function transact(db, stores, mode, body) {
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(stores, mode, { durability: "strict" });
    let outcome;
    transaction.oncomplete = () => resolve(outcome);
    transaction.onabort = () => reject(transaction.error ?? new DOMException("The transaction ended early.", "AbortError"));
    transaction.onerror = event => event.stopPropagation?.();
    try {
      refuseWaiting(body(name => transaction.objectStore(name), value => { outcome = value; }));
    } catch (error) {
      transaction.abort();
      reject(error);
    }
  });
}

/** @returns {(value: unknown) => void} calls `then` with the value of a request once it is there. */
export function got(request, then) {
  request.onsuccess = () => then(request.result);
}
