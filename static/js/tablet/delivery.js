// What an answer means for the events that were sent. Pure: rows and answers in, decisions out.

/** The server has it for good and will show it to a person if it must. */
const TAKEN = new Set(["stored", "known", "set-aside"]);

/** At most this many events, and about this many characters, in one batch. */
export const BATCH = 50;
export const BATCH_CHARACTERS = 256_000;

const FIRST_DELAY_MS = 1000;
const LONGEST_DELAY_MS = 60_000;
const SHORTEST_DELAY_MS = 200;

/**
 * Settles one batch. An event is let go of only when the answer names it and repeats its own hash.
 * @param {{id: string, hash: string}[]} sent
 * @param {{id: string, hash: string, status: string, findings?: object[]}[]} answers
 * @returns {{letGo: object[], holdBack: {id: string, why: string, answer: object}[], unanswered: string[]}}
 */
export function settle(sent, answers) {
  const byId = new Map(answers.map(answer => [answer.id, answer]));
  const settled = { letGo: [], holdBack: [], unanswered: [] };
  for (const { id, hash } of sent) {
    const answer = byId.get(id);
    const why = answer && whyHeldBack(answer, hash);
    if (!answer) settled.unanswered.push(id);
    else if (why) settled.holdBack.push({ id, why, answer });
    else settled.letGo.push(answer);
  }
  return settled;
}

/** @returns {string | null} why an event must stay here although it was answered */
function whyHeldBack(answer, hash) {
  if (answer.status === "id-reused") return "id-reused";
  if (answer.hash !== hash) return "hash-differs";
  return TAKEN.has(answer.status) ? null : "refused";
}

/**
 * @typedef {"answers" | "sign-in" | "halve" | "later"} Meaning
 * @param {number} status @param {any} json @returns {Meaning} what to do after the server answered a batch
 */
export function meaningOf(status, json) {
  if (status === 200) return Array.isArray(json?.answers) ? "answers" : "later";
  if (status === 401 || status === 403) return "sign-in";
  if ([400, 409, 413, 422].includes(status)) return "halve";
  return "later";
}

/**
 * The time to the next try: anywhere up to twice the last ceiling, so that a ward's tablets do not all come at once
 * after an outage. There is no last try.
 * @param {number} failures in a row, from 1
 * @param {number} chance from 0 to 1
 * @param {number | null} retryAfterMs what the server asked for
 */
export function delayMs(failures, chance, retryAfterMs) {
  const ceiling = Math.min(LONGEST_DELAY_MS, FIRST_DELAY_MS * 2 ** Math.min(failures - 1, 10));
  return Math.max(SHORTEST_DELAY_MS, Math.round(chance * ceiling), retryAfterMs ?? 0);
}

/**
 * The events of one batch: of one tablet, in order, not too many and not too long.
 * @param {{tablet: string, sealed?: string, body?: string}[]} waiting in order @param {number} most
 */
export function firstBatch(waiting, most) {
  const batch = [];
  let characters = 0;
  for (const event of waiting) {
    characters += (event.sealed ?? event.body).length;
    const isFull = batch.length >= most || event.tablet !== waiting[0].tablet || characters > BATCH_CHARACTERS;
    if (batch.length && isFull) break;
    batch.push(event);
  }
  return batch;
}
