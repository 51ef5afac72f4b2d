// The way to the server: the only module with fetch. An answer counts only if Bedside itself gave it.

import { monotonic, wallMs } from "./identifiers.js";

/** No answer of Bedside: no network, a timeout, a redirect, a portal's page. What was asked may still have arrived. */
export class NotReached extends Error {
  name = "NotReached";
  says = "The server did not answer.";
  do_next = "Carry on. What you record is saved on this tablet and is sent by itself later.";
}

export const HELLO_TIMEOUT_MS = 4000;
export const PACKET_TIMEOUT_MS = 20_000;
export const EVENTS_TIMEOUT_MS = 10_000;

/**
 * @typedef {object} Reply
 * @property {number} status
 * @property {string} house the house that answered
 * @property {any} json
 * @property {number | null} retryAfterMs
 * @property {string | null} date the server's Date header
 * @property {{wall: number, mono: number}} asked
 * @property {{wall: number, mono: number}} answered
 */

const instant = () => ({ wall: wallMs(), mono: monotonic() });

/** @param {string} path @param {number} timeoutMs @returns {Promise<Reply>} */
export function get(path, timeoutMs) {
  return ask(path, { method: "GET", headers: headers() }, timeoutMs);
}

/** @param {string} path @param {object} message @param {number} timeoutMs @returns {Promise<Reply>} */
export function post(path, message, timeoutMs) {
  return ask(path, letter(JSON.stringify(message)), timeoutMs);
}

const letter = body => ({ method: "POST", body, headers: { ...headers(), "Content-Type": "application/json" } });

/**
 * The same two, with what proves that this tablet asked.
 * @param {(method: string, path: string, body: string) => Promise<object>} sign gives headers; none before enrolment
 */
export function signedWire(sign) {
  const add = async (path, options, body) =>
    ({ ...options, headers: { ...options.headers, ...(await sign(options.method, path, body)) } });
  return {
    get: async (path, timeoutMs) => ask(path, await add(path, { method: "GET", headers: headers() }, ""), timeoutMs),
    post: async (path, message, timeoutMs) => {
      const body = JSON.stringify(message);
      return ask(path, await add(path, letter(body), body), timeoutMs);
    },
  };
}

function headers() {
  return { "X-Bedside": "1", Accept: "application/json" };
}

async function ask(path, options, timeoutMs) {
  const asked = instant();
  try {
    const response = await fetch(path, {
      ...options,
      credentials: "same-origin",
      cache: "no-store",
      redirect: "error", // a portal redirects; Bedside never does here
      signal: AbortSignal.timeout(timeoutMs),
    });
    const answered = instant(); // before the body: a long packet must not look like a late clock
    return { ...(await read(response)), asked, answered };
  } catch (cause) {
    throw cause instanceof NotReached ? cause : new NotReached("No answer", { cause });
  }
}

/** A status alone proves nothing: a portal answers 200. Our header and JSON must be there. */
async function read(response) {
  const house = response.headers.get("X-Bedside-House");
  if (!house || !isJson(response)) throw new NotReached("Somebody else answered for the server");
  return {
    status: response.status,
    house,
    json: await response.json(),
    retryAfterMs: retryAfter(response.headers.get("Retry-After")),
    date: response.headers.get("Date"),
  };
}

function isJson(response) {
  const type = (response.headers.get("Content-Type") ?? "").split(";")[0].trim();
  return type === "application/json" || type === "application/problem+json";
}

/** Seconds only; the date form is not used by our server. */
function retryAfter(text) {
  return /^\d+$/.test(text ?? "") ? Number(text) * 1000 : null;
}
