// Which build this page runs, and the handing over to a newer one. Touches the service worker and nothing else.

/** The build this page was loaded from: its modules lie under /static/<build>/. */
export const build = /\/static\/([^/]+)\/js\//.exec(import.meta.url)?.[1] ?? "unbuilt";

const HOURLY_MS = 3600_000;

/** Loads the page anew: from the new worker's shell, or for another house. */
export function reload() {
  location.reload();
}

export class AppVersion {
  #asked = false;
  #hadController = Boolean(navigator.serviceWorker?.controller);

  /**
   * @param {ServiceWorkerRegistration} registration
   * @param {(changes: object) => void} tell
   */
  constructor(registration, tell) {
    this.registration = registration;
    this.tell = tell;
  }

  /** Watches for a newer version and looks for one whenever the tablet is taken up again. */
  watch() {
    this.registration.addEventListener("updatefound", () => this.#follow(this.registration.installing));
    navigator.serviceWorker.addEventListener("controllerchange", () => this.#controlled());
    this.#noticeWaiting();
    const look = () => this.registration.update().catch(() => {}); // no network: it looks again next time
    addEventListener("pageshow", look);
    document.addEventListener("visibilitychange", () => document.hidden || look());
    setInterval(look, HOURLY_MS);
  }

  #follow(worker) {
    worker?.addEventListener("statechange", () => this.#noticeWaiting());
  }

  #noticeWaiting() {
    if (this.registration.waiting && navigator.serviceWorker.controller) this.tell({ update: "waiting" });
  }

  /** Asks the waiting version to take over; the page reloads once when it has. @returns {boolean} */
  takeOver() {
    const { waiting } = this.registration;
    if (!waiting) return false;
    this.#asked = true;
    waiting.postMessage("take-over");
    return true;
  }

  /** The first worker ever takes over a page that came with the same files: nothing to do then. */
  #controlled() {
    if (!this.#hadController) this.#hadController = true;
    else if (this.#asked) this.#reloadOnce();
    else this.tell({ update: "reload" });
  }

  #reloadOnce() {
    this.#asked = false;
    reload();
  }
}
