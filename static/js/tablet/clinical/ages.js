// Pure: how old the patient is. Dates are YYYY-MM-DD, moments milliseconds since 1970.

/** Reports whether fewer than so many months have passed since birth; on the day itself they have. */
export const isUnderMonths = (birthDate, atMs, months) => dayOf(atMs) < monthsLater(birthDate, months);

/** The same day some months later, as text that sorts; a day that month lacks sorts after its last one. */
export function monthsLater(date, months) {
  const [year, month, day] = date.split('-');
  const total = Number(year) * 12 + Number(month) - 1 + months;
  const padded = (number, length) => String(number).padStart(length, '0');
  return `${padded(Math.floor(total / 12), 4)}-${padded((total % 12) + 1, 2)}-${day}`;
}

/** The UTC day of a moment. */
export const dayOf = (atMs) => new Date(atMs).toISOString().slice(0, 10);
