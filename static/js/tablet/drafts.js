// Half-filled forms, kept field by field, so that a reload or a dead battery costs nothing.

import { got } from "./store.js";

export class Drafts {
  /** @param {import("./store.js").Store} store */
  constructor(store) {
    this.store = store;
  }

  /** @param {string} key @param {object} value plain data */
  save(key, value) {
    return this.store.write(["drafts"], open => open("drafts").put({ key, value }));
  }

  /** @param {string} key @returns {Promise<object | null>} */
  read(key) {
    return this.store.read(["drafts"], (open, result) => {
      got(open("drafts").get(key), row => result(row?.value ?? null));
    });
  }

  /** @param {string} key */
  drop(key) {
    return this.store.write(["drafts"], open => open("drafts").delete(key));
  }
}
