// When an order may be drawn, and how it stands at a moment: the twin of `stands` in bedside/clinical/windows.py, and the
// same in a round's few words. Pure: the window and its numbers come from the packet and its rulebook.

import { clockTime } from "./parts/when.js";

const MINUTE_MS = 60_000;

/**
 * How an order that is not drawn stands: both ends of its window are inside it. A level is missed once its window is
 * over; what merely waits is late first. A book without that limit calls nothing missed that merely waits.
 * @param window of an order in the packet @returns "too-early" | "open" | "due" | "late" | "missed"
 */
export function stands(window, nowMs, book) {
  const [from, aim, to] = [window.from, window.aim, window.to].map((moment) => Date.parse(moment));
  if (nowMs < from) return "too-early";
  if (nowMs <= to) return nowMs >= aim ? "due" : "open";
  const grace = window.is_level ? 0 : (book.limits.missed_after_min?.value ?? Infinity) * MINUTE_MS;
  return nowMs <= to + grace ? "late" : "missed";
}

const RANK = ["missed", "late", "due", "open", "too-early"];

/** The orders of a visit with a window, the most pressing first: [{order, window, state}]. */
export function pressing(visit, nowMs, book) {
  const ends = ({ state, window }) => Date.parse(state === "too-early" ? window.from : window.to);
  return (visit.orders ?? [])
    .filter(({ window }) => window)
    .map((order) => ({ order, window: order.window, state: stands(order.window, nowMs, book) }))
    .sort((a, b) => RANK.indexOf(a.state) - RANK.indexOf(b.state) || ends(a) - ends(b));
}

/** The levels and orders whose window is over: drawn now, they would mislead or come too late. */
export const missedIn = (visit, nowMs, book) =>
  pressing(visit, nowMs, book).filter(({ state }) => state === "missed");

const minutesTo = (iso, nowMs) => (Date.parse(iso) - nowMs) / MINUTE_MS;

/** A span in whole minutes: "25 min", from two hours on "3 h 05". */
export function minutesWords(minutes) {
  if (minutes < 1) return "under 1 min";
  if (minutes < 120) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")}`;
}

/** How a window stands, in two short lines: [{says, look}], the second one counting. */
export function countdown({ window, state }, nowMs, zone) {
  const at = (iso) => clockTime(iso, zone);
  // Never more time than there is: what is left is rounded down, what is still to wait is rounded up.
  const until = minutesWords(Math.floor(minutesTo(window.to, nowMs)));
  const since = minutesWords(Math.floor(-minutesTo(window.to, nowMs)));
  if (state === "too-early") {
    const wait = minutesWords(Math.ceil(minutesTo(window.from, nowMs)));
    return [{ says: `too early, opens ${at(window.from)}` }, { says: `in ${wait}` }];
  }
  if (state === "open") return [{ says: `open until ${at(window.to)}` }];
  if (state === "due") return [{ says: `due until ${at(window.to)}`, look: "act" }, { says: until, look: "act" }];
  if (state === "late") return [{ says: `late since ${at(window.to)}`, look: "stop" }, { says: since, look: "stop" }];
  return [{ says: `MISSED ${at(window.to)}`, look: "stop" }, { says: `${since} ago`, look: "stop" }];
}

/** "trough before the dose at 06:00": what kind of level it is, and the moment it goes by, where the order names it. */
export function levelWords(window, zone) {
  const dose = window.dose_at ? clockTime(window.dose_at, zone) : null;
  const end = window.infusion_end_at ? clockTime(window.infusion_end_at, zone) : null;
  if (window.follows === "trough" && dose) return `trough before the dose at ${dose}`;
  if (window.follows === "peak" && end) return `peak after the infusion that ends at ${end}`;
  return dose ? `${window.why}; the dose at ${dose}` : window.why;
}

/** One sentence for each order whose time matters to the result, or whose window does not hold now: [{says, look}]. */
export function windowLines(visit, nowMs, book, zone) {
  return pressing(visit, nowMs, book)
    .filter(({ window, state }) => window.is_level || window.lacks || ["missed", "too-early"].includes(state))
    .map((one) => ({ says: sentence(one, nowMs, zone), look: LOOK[one.state] }));
}

const capital = (words) => `${words[0].toUpperCase()}${words.slice(1)}`;

const LOOK = { missed: "stop", late: "stop", "too-early": "stop", due: "act", open: "act" };

function sentence(one, nowMs, zone) {
  const { order, window } = one;
  const when = countdown(one, nowMs, zone).map(({ says }) => says).join(", ");
  const kind = window.is_level ? `. ${capital(levelWords(window, zone))}` : "";
  const lacks = window.lacks ? `. Not known: ${window.lacks}; ask the ward` : "";
  return `${order.name}: ${when}${kind}${lacks}`;
}
