// How old a patient is in words, whether somebody else decides for them, and how much blood they may give. Pure.

import { isUnderMonths } from "./clinical/ages.js";
import { ofKind } from "./visit.js";

const MONTHS = 12;

/** Completed months between a birth date (YYYY-MM-DD) and a moment (ISO). */
export function monthsOld(birthDate, iso) {
  const [year, month, day] = birthDate.split("-").map(Number);
  const at = new Date(iso);
  const months = (at.getUTCFullYear() - year) * MONTHS + at.getUTCMonth() + 1 - month;
  return Math.max(0, at.getUTCDate() < day ? months - 1 : months);
}

/** "2 years", under two years "14 months": how the age of a child is said. */
export function ageWords(birthDate, iso) {
  const months = monthsOld(birthDate, iso);
  const years = Math.floor(months / MONTHS);
  return months < 2 * MONTHS ? plural(months, "month") : plural(years, "year");
}

const plural = (number, noun) => `${number} ${noun}${number === 1 ? "" : "s"}`;

/** Whether the patient is younger than a limit of the book, in years; an older book may not know it: then not. */
export function isUnder(v, limit) {
  const years = v.book.limits[limit]?.value;
  return Number.isFinite(years) && isUnderMonths(v.patient.birth_date, Date.parse(v.now.at), years * MONTHS);
}

/** Whether the law of the place has somebody else agree for this patient. */
export const isMinor = (v) => isUnder(v, "consent_from_years");

/** The named person who spoke for the patient when identity was settled: {name, relation}, or null. */
export function speaker(v) {
  const vouched = ofKind(v.done.facts, "identity_taken").filter(({ data }) => data.source === "vouched");
  return vouched.at(-1)?.data.voucher ?? null;
}

/**
 * What a patient with a limit may give, what is planned, and what was drawn elsewhere; null where there is no limit.
 * @param how {brief: without what was drawn elsewhere, which the limit has taken in already}
 */
export function volumeWords(v, { brief = false } = {}) {
  if (!v.allowed) return null;
  const drawn = v.verdict?.volume_ml ?? 0;
  const planned = v.done.open.reduce((sum, tube) => sum + (tube.draw_ml ?? tube.nominal_ml ?? 0), 0);
  return [
    `At most ${mlAtMost(v.allowed.ml)} now`,
    drawn ? `${ml(drawn)} drawn` : null,
    `${ml(planned)} ${drawn ? "to come" : "planned"}`,
    brief ? null : `${ml((v.patient.drawn_24h_ml ?? 0) + v.allowed.hereMl)} drawn elsewhere in 24 h`,
  ]
    .filter(Boolean)
    .join(", ");
}

/** Age and weight of a child, in words; null for everybody else. */
export function childWords(v) {
  if (!isUnder(v, "adult_from_years")) return null;
  const weight = v.patient.weight_kg;
  const heavy = Number.isFinite(weight) ? `${weight} kg` : "weight not known: weigh before you draw";
  return `Child, ${ageWords(v.patient.birth_date, v.now.at)}, ${heavy}`;
}

/** A volume without needless digits: "2.5 mL". */
export const ml = (volume) => `${Math.round(volume * 100) / 100} mL`;

/** The same for what may be drawn: never a hundredth more than there is. */
export const mlAtMost = (volume) => `${Math.floor(volume * 100 + 1e-6) / 100} mL`;
