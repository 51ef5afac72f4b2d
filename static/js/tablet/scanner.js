// Hears a hand-held reader without a field that has the focus, and keeps its keys from pressing buttons or shortcuts.

import { GAP_MS, NOTHING, isUnderWay, take } from "./reading.js";

const isField = element => element?.matches?.("input, textarea, select, [contenteditable]") ?? false;

export class Scanner {
  #burst = NOTHING;
  #before = null;
  #scanListeners = [];
  #keyListeners = new Set();
  #pending = 0;

  /** @param {Window} page */
  constructor(page) {
    // The capture phase: Enter at the end of a scan must not press whatever button has the focus.
    page.addEventListener("keydown", event => this.#key(event), { capture: true });
  }

  /** The newest listener gets the scan. @param {(text: string) => void} listener @returns {() => void} */
  onScan(listener) {
    this.#scanListeners.push(listener);
    return () => {
      this.#scanListeners = this.#scanListeners.filter(each => each !== listener);
    };
  }

  /** Single keys outside fields, once it is clear that no reader sent them. */
  onKey(listener) {
    this.#keyListeners.add(listener);
    return () => this.#keyListeners.delete(listener);
  }

  #key(event) {
    const { burst, scan } = take(this.#burst, event, event.timeStamp);
    if (burst === this.#burst) return; // a shift key in the middle of a burst
    if (burst.text.length === 1) this.#remember(event);
    this.#burst = burst;
    clearTimeout(this.#pending);
    if (scan !== null) return this.#deliver(event, scan);
    if (isField(event.target)) return;
    if (isUnderWay(burst)) event.preventDefault();
    if (burst.text.length === 1) this.#pending = setTimeout(() => this.#shortcut(burst.text), GAP_MS + 10);
  }

  /** What stood in the field before the first key: a scan must leave no trace there. */
  #remember({ target }) {
    this.#before = isField(target) ? { field: target, value: target.value } : null;
  }

  #deliver(event, text) {
    const listener = this.#scanListeners.at(-1);
    if (!listener) return; // nobody waits for a scan here: let it be typed
    event.preventDefault();
    event.stopImmediatePropagation();
    this.#restore();
    listener(text);
  }

  #restore() {
    if (this.#before?.value === undefined) return;
    const { field, value } = this.#before;
    field.value = value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  #shortcut(key) {
    this.#keyListeners.forEach(tell => tell(key));
  }
}
