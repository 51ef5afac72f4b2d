// When a house was restored from a backup it has a new name. Then everything this tablet still holds is carried into a
// store of the new name and offered again; what the server has already, it knows by the ids.

import { got } from "./store.js";

const CARRIED = ["events", "outbox", "packets", "pins", "spares_taken", "drafts"];

/** @param {import("./store.js").Store} from @param {import("./store.js").Store} to */
export async function carryOver(from, to) {
  const everything = await readAll(from);
  await to.write(CARRIED, open => {
    for (const name of CARRIED) for (const row of everything[name]) addMissing(open(name), row);
  });
  await from.write(["meta"], open => open("meta").put({ key: "moved_to", value: to.house }));
}

async function readAll(store) {
  const rows = await store.read(CARRIED, (open, result) => {
    const found = {};
    result(found);
    for (const name of CARRIED) got(open(name).getAll(), all => { found[name] = all; });
  });
  return offeredAgain(rows);
}

/** Every event stands in the queue again, without the answer of a server that has forgotten it. */
function offeredAgain(rows) {
  const events = rows.events.map(event => ({ ...event, answer: null }));
  const outbox = events.map(({ id, tablet, seq, saved_at }) => ({ id, tablet, seq, saved_at, held_back: null }));
  return { ...rows, events, outbox };
}

/** A second try, after a crash half-way, changes nothing. */
function addMissing(store, row) {
  got(store.get(row[store.keyPath]), known => known ?? store.add(row));
}

/** @param {import("./store.js").Store} store @returns {Promise<boolean>} whether it was carried over already */
export function wasMoved(store) {
  return store.read(["meta"], (open, result) => got(open("meta").get("moved_to"), row => result(Boolean(row))));
}
