// When a house was restored from a backup it has a new name. Then everything this tablet still holds is carried into a
// store of the new name and offered again; what the server has already, it knows by the ids.

import { got } from "./store.js";

const CARRIED = ["events", "outbox", "packets", "pins", "spares_taken", "drafts", "people", "rounds"];
/** Of `meta`: the keys of the tablet, the house its records are bound to, whose packet is the current one. */
const ALSO = row => ["device", "origin", "running"].includes(row.key) || row.key.startsWith("packet ");

/**
 * 1. Reads the old store. The first time everything is carried; later only what another window saved there meanwhile,
 *    which still stands in the old queue.
 * 2. Adds what is missing to the new store, every event in the queue again.
 * 3. Only then takes it out of the old queue. A crash before that repeats the whole, and changes nothing.
 * @param {import("./store.js").Store} from @param {import("./store.js").Store} to
 */
export async function carryOver(from, to) {
  const rows = offeredAgain(await readAll(from), await movedTo(from));
  await to.write([...CARRIED, "meta"], open => {
    for (const name of CARRIED) for (const row of rows[name]) addMissing(open(name), row);
    for (const row of rows.meta.filter(ALSO)) addMissing(open("meta"), row);
  });
  await from.write(["meta", "outbox"], open => {
    open("meta").put({ key: "moved_to", value: to.house });
    for (const { id } of rows.outbox) open("outbox").delete(id);
  });
}

function readAll(store) {
  return store.read([...CARRIED, "meta"], (open, result) => {
    const found = {};
    result(found);
    for (const name of [...CARRIED, "meta"]) got(open(name).getAll(), all => { found[name] = all; });
  });
}

/** Every event stands in the queue again, without the answer of a server that has forgotten it. */
function offeredAgain(rows, isRepeated) {
  const queued = new Set(rows.outbox.map(row => row.id));
  const events = rows.events.filter(event => !isRepeated || queued.has(event.id))
    .map(event => ({ ...event, answer: null }));
  const outbox = events.map(({ id, tablet, seq, saved_at }) => ({ id, tablet, seq, saved_at, held_back: null }));
  return { ...rows, events, outbox };
}

function addMissing(store, row) {
  got(store.get(row[store.keyPath]), known => known ?? store.add(row));
}

/** @param {import("./store.js").Store} store @returns {Promise<string | null>} the house a store was carried over to */
export function movedTo(store) {
  return store.read(["meta"], (open, result) => got(open("meta").get("moved_to"), row => result(row?.value ?? null)));
}
