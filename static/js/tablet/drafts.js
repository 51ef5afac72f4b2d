// Half-filled forms, kept field by field, so that a reload, a lock or a dead battery costs nothing. On the disk both
// their names and what is in them are unreadable.

import { got } from "./store.js";
import { RecordDamaged } from "./vault/records.js";

export class Drafts {
  /** @param {import("./store.js").Store} store @param {import("./vault/vault.js").Vault} vault */
  constructor(store, vault) {
    this.store = store;
    this.vault = vault;
  }

  /** @param {string} key @param {object} value plain data */
  async save(key, value) {
    const named = this.vault.tag(key);
    const locked = this.vault.keepNamed("drafts", named, value);
    const row = { key: await named, ...(await locked) };
    return this.store.write(["drafts"], open => open("drafts").put(row));
  }

  /** @param {string} key @returns {Promise<object | null>} null also for one that was changed or damaged: it is begun anew */
  async read(key) {
    const name = await this.vault.tag(key);
    const row = await this.store.read(["drafts"], (open, result) => {
      got(open("drafts").get(name), found => result(found ?? null));
    });
    try {
      return (await this.vault.look("drafts", name, row)) ?? null;
    } catch (error) {
      if (!(error instanceof RecordDamaged)) throw error;
      reportError(error);
      return null;
    }
  }

  /** @param {string} key */
  async drop(key) {
    const name = await this.vault.tag(key);
    return this.store.write(["drafts"], open => open("drafts").delete(name));
  }
}
