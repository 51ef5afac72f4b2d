// A date as it is spoken: day, month, year. Pure reading of eight digits, and the line that shows them.

import { el } from "./dom.js";
import { MONTHS } from "./when.js";

/**
 * What eight digits say. @param today YYYY-MM-DD
 * @returns {{date: string|null, trouble: string|null}} trouble is null while it is merely unfinished
 */
export function readDate(digits, today) {
  const day = Number(digits.slice(0, 2));
  const month = Number(digits.slice(2, 4));
  if (digits.length >= 2 && (day < 1 || day > 31))
    return trouble("There is no such day. Ask again, or correct the day.");
  if (digits.length >= 4 && (month < 1 || month > 12))
    return trouble("There is no such month. The order is day, month, year.");
  if (digits.length < 8) return { date: null, trouble: null };
  const year = Number(digits.slice(4));
  if (day > daysIn(month, year)) return trouble(`${MONTHS[month - 1]} ${year} has no day ${day}.`);
  const date = `${String(year).padStart(4, "0")}-${digits.slice(2, 4)}-${digits.slice(0, 2)}`;
  if (date > today) return trouble("This date lies ahead. Ask again, or correct the year.");
  if (date < yearsBefore(today, OLDEST_YEARS))
    return trouble("That would be an age over 120. Ask again, or correct the year.");
  return { date, trouble: null };
}

// A slip of a finger, not a clinical limit: no rulebook entry. From memory: the oldest age ever proven is 122.
const OLDEST_YEARS = 120;

const trouble = (says) => ({ date: null, trouble: says });

function yearsBefore(date, years) {
  return `${String(Number(date.slice(0, 4)) - years).padStart(4, "0")}${date.slice(4)}`;
}

function daysIn(month, year) {
  if (month === 2) return year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : 28;
  return [4, 6, 9, 11].includes(month) ? 30 : 31;
}

/** The digits typed so far: "09 March 19__". */
export function dateLine(digits) {
  const month = Number(digits.slice(2, 4));
  const named = digits.length >= 4 && month >= 1 && month <= 12;
  return el(
    "p",
    { class: "date-line", "aria-live": "polite" },
    part(digits.slice(0, 2), 2),
    named ? el("span", { class: "date-month" }, MONTHS[month - 1]) : part(digits.slice(2, 4), 2),
    part(digits.slice(4, 8), 4),
  );
}

function part(typed, length) {
  return el(
    "span",
    { class: "date-part", data: { done: typed.length === length ? "yes" : "no" } },
    typed + "_".repeat(length - typed.length),
  );
}
