// Times as people read them: pure, in the ward's zone; the clock itself is asked elsewhere.

// Engines write the same language differently (2026-11-26, 11/26/2026), so the parts are taken by their names.
function partsOf(at, zone) {
  const format = new Intl.DateTimeFormat("en-GB", {
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
    timeZone: zone || "UTC",
  });
  return Object.fromEntries(format.formatToParts(at).map(({ type, value }) => [type, value]));
}

/** "05:14" in `zone`; "" for a missing or broken time. */
export function clockTime(iso, zone) {
  const at = Date.parse(iso ?? "");
  if (Number.isNaN(at)) return "";
  const { hour, minute } = partsOf(at, zone);
  return `${hour}:${minute}`;
}

/** "2026-11-26 05:14" in `zone`: what a label carries. */
export function labelTime(iso, zone) {
  const at = Date.parse(iso ?? "");
  if (Number.isNaN(at)) return "";
  const { year, month, day } = partsOf(at, zone);
  return `${year}-${month}-${day} ${clockTime(iso, zone)}`;
}

/** Whole minutes from `fromIso` to `toIso`, rounded down; negative when it is past; null when either is missing. */
export function minutesBetween(fromIso, toIso) {
  const from = Date.parse(fromIso ?? "");
  const to = Date.parse(toIso ?? "");
  if (Number.isNaN(from) || Number.isNaN(to)) return null;
  return Math.floor((to - from) / 60000);
}

/** "38 s" under two minutes, "2:10" from there, "1 h 05" from an hour. */
export function spanText(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  if (whole < 100) return `${whole} s`;
  const minutes = Math.floor(whole / 60);
  if (minutes < 60) return `${minutes}:${String(whole % 60).padStart(2, "0")}`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")}`;
}

export const MONTHS = [
  "January",
  "February",
  "March",
  "April",
  "May",
  "June",
  "July",
  "August",
  "September",
  "October",
  "November",
  "December",
];

/** The day it is in `zone`, YYYY-MM-DD. */
export function dayIn(iso, zone) {
  return labelTime(iso, zone).slice(0, 10);
}

/** The moment `minutes` after `iso`, or null. */
export function later(iso, minutes) {
  const at = Date.parse(iso ?? "");
  return Number.isNaN(at) || !Number.isFinite(minutes) ? null : new Date(at + minutes * 60000).toISOString();
}
