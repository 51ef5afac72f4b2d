// The packets this tablet carries: the current one, and those that visits under way began with.

import { hashOf } from "./outbox.js";
import { keyOf, wrongWith } from "./packet.js";
import { got } from "./store.js";
import { RecordDamaged } from "./vault/records.js";
import { Locked } from "./vault/vault.js";
import { HANDED_BACK } from "./vault/wiping.js";
import { PACKET_TIMEOUT_MS } from "./wire.js";

/** What arrived cannot be worked with; the packet held before stays. */
export class PacketBroken extends Error {
  name = "PacketBroken";
  says = "The round that arrived from the server is damaged. The one on this tablet stays.";
  do_next = "Fetch it again. If it stays so, tell whoever keeps the house.";
}

/** The server wants somebody to sign in first. */
export class SignInNeeded extends Error {
  name = "SignInNeeded";
  says = "New orders need you to be signed in. A PIN opens this tablet; it does not tell the house who asks.";
  do_next = "Sign in with your password. What is saved on this tablet stays, and goes home without it.";
}

/** The server has no round for this person now; its own words are in `says` and `do_next`. */
export class NoPacket extends Error {
  name = "NoPacket";
  /** @param {any} problem */
  constructor(problem) {
    super(problem?.title ?? "The server has no round for you.");
    this.says = problem?.detail ?? this.message;
    this.do_next = problem?.do_next ?? "Ask who plans the rounds.";
  }
}

export class PacketKeeper {
  #listeners = new Set();

  /** @param {import("./store.js").Store} store @param {import("./vault/vault.js").Vault} vault @param {{get: Function}} wire */
  constructor(store, vault, wire) {
    this.store = store;
    this.vault = vault;
    this.wire = wire;
  }

  /** Where the key of this person's current packet stands in `meta`. */
  get #current() {
    return `packet ${this.vault.person}`;
  }

  /** @param {(packet: any) => void} listener @returns {() => void} */
  onPacket(listener) {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** @returns {Promise<any>} the current packet or null, also while locked */
  async current() {
    if (!this.vault.person) return null;
    const place = this.#current;
    return this.#opened(await this.store.read(["meta", "packets"], (open, result) => {
      got(open("meta").get(place), row => readPacket(open, row?.value, result));
    }));
  }

  /** A damaged packet is none: it is fetched again. */
  async #opened(row) {
    try {
      return (row && await this.vault.look("packets", row.key, row)) ?? null;
    } catch (error) {
      if (!(error instanceof RecordDamaged)) throw error;
      reportError(error);
      return null;
    }
  }

  /** @param {string} visit @returns {Promise<any>} the packet this visit began with, else the current one */
  async forVisit(visit) {
    if (!this.vault.person) return null;
    const [place, tag] = [this.#current, await this.vault.tag(visit)];
    return this.#opened(await this.store.read(["meta", "packets", "pins"], (open, result) => {
      got(open("meta").get(place), current => {
        got(open("pins").get(tag), pinned => readPacket(open, pinned?.packet ?? current?.value, result));
      });
    }));
  }

  /** Fetches, checks and stores the packet whole; what was there stays until then. @returns {Promise<any>} */
  async refresh() {
    const { person } = this.vault;
    if (!person) throw new Locked();
    // The tablet names itself, so that no other one is given the same spare numbers.
    const name = encodeURIComponent(this.vault.device.tablet);
    const reply = await this.wire.get(`/tablet/packet?tablet=${name}`, PACKET_TIMEOUT_MS);
    refuseOther(reply);
    const packet = reply.json;
    // Somebody else is signed in: their round is not for the eyes of whoever has unlocked.
    if (packet?.by && packet.by !== person) throw new SignInNeeded();
    const wrong = wrongWith(packet, this.store.house, await hashOf(String(packet?.rulebook ?? "")));
    if (wrong.length) throw new PacketBroken(`The packet is wrong in: ${wrong.slice(0, 5).join(", ")}`);
    if (this.vault.person !== person) throw new Locked(); // locked meanwhile, or somebody else has unlocked
    await this.#keep(packet);
    this.#listeners.forEach(tell => tell(packet));
    return packet;
  }

  /** Stores the packet and drops those that no visit began with. */
  async #keep(packet) {
    const place = this.#current;
    const round = await this.vault.roundRow(packet.id, packet.until);
    const key = await this.vault.tag(keyOf(packet));
    const row = { key, ...(await this.vault.keep("packets", key, packet)) };
    await this.store.write(["meta", "packets", "pins", "rounds"], open => {
      keepRound(open, round);
      open("packets").put(row);
      open("meta").put({ key: place, value: key });
      open("meta").delete(HANDED_BACK); // it carries a round again
      // Those of other people stay as they are: they cannot even be read here.
      got(open("meta").getAll(), meta => got(open("pins").getAll(), pins => {
        const current = meta.filter(each => each.key.startsWith("packet ")).map(each => each.value);
        const needed = new Set([key, ...current, ...pins.map(pinned => pinned.packet)]);
        got(open("packets").getAllKeys(), keys => dropOthers(open, keys, needed));
      }));
    });
  }

  /** Hands out each spare of the current packet once. @returns {Promise<any>} the spare or null when none is left */
  async takeSpare() {
    const packet = await this.current();
    const spares = await Promise.all((packet?.spares ?? []).map(async spare =>
      ({ spare, specimen: await this.vault.tag(`spare ${numberOf(spare)}`) })));
    return this.store.write(["spares_taken"], (open, result) => {
      result(null);
      got(open("spares_taken").getAllKeys(), taken => takeFirst(open, spares, new Set(taken), result));
    });
  }
}

/** The round's row; the key in it stays the one it was made with. Only one round of a person is the current one. */
function keepRound(open, round) {
  got(open("rounds").index("by_person").getAll(round.person), rows => {
    for (const row of rows) if (row.is_current && row.kid !== round.kid) open("rounds").put({ ...row, is_current: false });
    open("rounds").put({ ...rows.find(row => row.kid === round.kid), ...round });
  });
}

function readPacket(open, key, then) {
  if (!key) return then(null);
  got(open("packets").get(key), row => then(row ?? null));
}

function dropOthers(open, keys, needed) {
  for (const key of keys) if (!needed.has(key)) open("packets").delete(key);
}

/** A spare is an object with its label, or in a packet of the first kind the bare number. */
const numberOf = spare => spare.specimen ?? spare;

function takeFirst(open, spares, taken, result) {
  const next = spares.find(each => !taken.has(each.specimen));
  if (next === undefined) return;
  open("spares_taken").add({ specimen: next.specimen });
  result(next.spare);
}

function refuseOther({ status, json }) {
  if (status === 401 || status === 403) throw new SignInNeeded();
  if (status !== 200) throw new NoPacket(json);
}
