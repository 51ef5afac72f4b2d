// The packets this tablet carries: the current one, and those that visits under way began with.

import { hashOf } from "./outbox.js";
import { keyOf, wrongWith } from "./packet.js";
import { got } from "./store.js";
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
  says = "The server wants you to sign in.";
  do_next = "Sign in. What is saved on this tablet stays and is sent afterwards.";
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

  /** @param {import("./store.js").Store} store @param {string} tablet @param {{get: Function}} wire */
  constructor(store, tablet, wire) {
    this.store = store;
    this.tablet = tablet;
    this.wire = wire;
  }

  /** @param {(packet: any) => void} listener @returns {() => void} */
  onPacket(listener) {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** @returns {Promise<any>} the current packet or null */
  current() {
    return this.store.read(["meta", "packets"], (open, result) => {
      got(open("meta").get("packet"), row => readPacket(open, row?.value, result));
    });
  }

  /** @param {string} visit @returns {Promise<any>} the packet this visit began with, else the current one */
  forVisit(visit) {
    return this.store.read(["meta", "packets", "pins"], (open, result) => {
      got(open("meta").get("packet"), current => {
        got(open("pins").get(visit), pinned => readPacket(open, pinned?.packet ?? current?.value, result));
      });
    });
  }

  /** Fetches, checks and stores the packet whole; what was there stays until then. @returns {Promise<any>} */
  async refresh() {
    // The tablet names itself, so that no other one is given the same spare numbers.
    const reply = await this.wire.get(`/tablet/packet?tablet=${encodeURIComponent(this.tablet)}`, PACKET_TIMEOUT_MS);
    refuseOther(reply);
    const packet = reply.json;
    const wrong = wrongWith(packet, this.store.house, await hashOf(String(packet?.rulebook ?? "")));
    if (wrong.length) throw new PacketBroken(`The packet is wrong in: ${wrong.slice(0, 5).join(", ")}`);
    await this.#keep(packet);
    this.#listeners.forEach(tell => tell(packet));
    return packet;
  }

  /** Stores the packet and drops those that no visit began with. */
  #keep(packet) {
    const key = keyOf(packet);
    return this.store.write(["meta", "packets", "pins"], open => {
      open("packets").put({ key, packet });
      open("meta").put({ key: "packet", value: key });
      got(open("pins").getAll(), pins => {
        const needed = new Set([key, ...pins.map(pinned => pinned.packet)]);
        got(open("packets").getAllKeys(), keys => dropOthers(open, keys, needed));
      });
    });
  }

  /** Hands out each spare of the current packet once. @returns {Promise<any>} the spare or null when none is left */
  takeSpare() {
    return this.store.write(["meta", "packets", "spares_taken"], (open, result) => {
      result(null);
      got(open("meta").get("packet"), row => readPacket(open, row?.value, packet => {
        got(open("spares_taken").getAllKeys(), taken => takeFirst(open, packet?.spares ?? [], new Set(taken), result));
      }));
    });
  }
}

function readPacket(open, key, then) {
  if (!key) return then(null);
  got(open("packets").get(key), row => then(row?.packet ?? null));
}

function dropOthers(open, keys, needed) {
  for (const key of keys) if (!needed.has(key)) open("packets").delete(key);
}

/** A spare is an object with its label, or in a packet of the first kind the bare number. */
const numberOf = spare => spare.specimen ?? spare;

function takeFirst(open, spares, taken, result) {
  const spare = spares.find(each => !taken.has(numberOf(each)));
  if (spare === undefined) return;
  open("spares_taken").add({ specimen: numberOf(spare) });
  result(spare);
}

function refuseOther({ status, json }) {
  if (status === 401 || status === 403) throw new SignInNeeded();
  if (status !== 200) throw new NoPacket(json);
}
