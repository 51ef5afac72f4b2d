// Which rows go when a round, a person or everything is wiped. Works inside a transaction it is given, so that a wipe is
// one: a page killed in the middle of it finds, when it starts again, all of it or nothing. What is unsent stays, sealed.

import { got } from "../store.js";

/** Every store a wipe touches. */
export const WIPED = ["people", "rounds", "packets", "drafts", "events", "outbox", "pins", "spares_taken", "meta"];

/** The letters to the house about tenth wrong PINs, until it has them: [{person, at}] under this key of `meta`. */
export const PINS_USED_UP = "pins_used_up";

/** That this tablet was handed back, until the house knows and nothing is unsent. */
export const HANDED_BACK = "handed_back";

/** What no round holds: a person's drafts before any packet, and what was saved for them on the locked tablet. */
export const OWN = "own:";
export const BOX = "box:";

/** A person's rounds; `kids`: only these of them. */
export function wipePerson(open, person, kids = null) {
  got(open("rounds").index("by_person").getAll(person), rows => {
    const mine = rows.map(row => row.kid).filter(kid => !kids || kids.includes(kid));
    wipeRounds(open, new Set(kids ? mine : [...mine, OWN + person, BOX + person]));
    if (!kids) open("meta").delete(`packet ${person}`);
  });
}

/** After the tenth wrong PIN: the keys and the round of this person, and a letter to the house that it happened. */
export function wipeForWrongPins(open, person, at) {
  got(open("people").get(person), row => {
    if (!row?.seed) return;
    open("people").put({ ...row, seed: null, salt: null, box: null });
    wipePerson(open, person);
    got(open("meta").get(PINS_USED_UP), letters => {
      open("meta").put({ key: PINS_USED_UP, value: [...(letters?.value ?? []), { person, at }] });
    });
  });
}

/**
 * Every patient and every person.
 * @param {{isRunning: boolean, isHandedBack: boolean}} about whether the clocks of a bed, which name nobody, stay to be
 *   stopped; whether the house is to be told that the tablet was handed back
 */
export function wipeEverything(open, { isRunning, isHandedBack }) {
  for (const name of ["people", "rounds", "packets", "pins", "drafts", "spares_taken"]) open(name).clear();
  got(open("events").getAll(), rows => rows.forEach(row => forget(open, row)));
  got(open("meta").getAllKeys(), keys => {
    for (const key of keys) if (key.startsWith("packet ") || (key === "running" && !isRunning)) open("meta").delete(key);
    if (isHandedBack) open("meta").put({ key: HANDED_BACK, value: { told: null } });
  });
}

function wipeRounds(open, kids) {
  for (const name of ["rounds", "packets", "drafts"]) {
    got(open(name).getAll(), rows => {
      for (const row of rows) if (kids.has(row.kid)) open(name).delete(row[open(name).keyPath]);
    });
  }
  got(open("events").getAll(), rows => rows.filter(row => kids.has(row.ours?.kid)).forEach(row => forget(open, row)));
}

/** An unsent event keeps its seal alone; one the house has goes. */
function forget(open, row) {
  got(open("outbox").get(row.id), queued => {
    if (queued) open("events").put({ ...row, ours: null });
    else open("events").delete(row.id);
  });
}
