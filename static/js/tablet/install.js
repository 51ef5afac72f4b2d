// Makes this browser a tablet: says what it lacks, registers the service worker, asks that its data be kept.

const WORKER = "/sw.js";

/** The one address a worker may be loaded from; Trusted Types lets no other through. */
const policy = globalThis.trustedTypes?.createPolicy("app-sw", {
  createScriptURL(url) {
    if (url !== WORKER) throw new TypeError(`No worker is loaded from ${url}.`);
    return url;
  },
});

const NEEDED = [
  ["a secure connection", () => globalThis.isSecureContext,
    "Without HTTPS the browser refuses to store, to number and to lock. Open the app by its https address."],
  ["storage on the tablet", () => Boolean(globalThis.indexedDB),
    "Nothing could be saved before it is sent. A private window has none: open an ordinary one."],
  ["a service worker", () => Boolean(navigator.serviceWorker),
    "The app would not open without the network. A private window has none: open an ordinary one."],
  ["cryptography", () => Boolean(globalThis.crypto?.subtle && crypto.randomUUID),
    "Events could not be told apart or checked. Use a browser of the last two years."],
];

/** @returns {{what: string, why: string}[]} what this browser lacks; with anything missing there is no clinical entry */
export function whatIsMissing() {
  return NEEDED.filter(([, isThere]) => !isThere()).map(([what, , why]) => ({ what, why }));
}

/** @returns {Promise<ServiceWorkerRegistration>} */
export function registerWorker() {
  const url = policy ? policy.createScriptURL(WORKER) : WORKER;
  return navigator.serviceWorker.register(url, { scope: "/tablet/", updateViaCache: "none" });
}

/** Asks that the data be kept when the disk is full. May never settle where a browser asks the person: do not wait. */
export async function askToBeKept() {
  const storage = navigator.storage;
  if (!storage?.persist) return null;
  return (await storage.persisted()) || storage.persist();
}
