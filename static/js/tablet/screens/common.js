// What several screens share: the two actions that stand beside almost every main one.

/** "Something is wrong", always the right-hand one. */
export const wrong = (desk) => ({
  says: "Something is wrong",
  look: "stop",
  act: () => desk.openPage("wrong"),
});

/** "Not drawn": two taps from the bedside to a recorded reason. */
export const notDrawn = (desk) => ({ says: "Not drawn", act: () => desk.openPage("not_drawn") });

/** A patient's name as it is spoken: given names first. */
export function spokenName(name) {
  const [family, given] = String(name)
    .split(",")
    .map((part) => part.trim());
  return given ? `${given} ${family}` : family;
}

/** "room 14, bed B" */
export const bedOf = (visit) => `room ${visit.room}, bed ${visit.bed}`;

/** Which arms are closed and why, in words: {left, right}, null where open. */
export function closedArms(patient, words) {
  const closed = { left: null, right: null };
  for (const { side, why } of patient.restrictions ?? []) {
    if (patient.permissions?.includes(side)) continue;
    closed[side] = [closed[side], words[why] ?? why].filter(Boolean).join(", ");
  }
  return closed;
}

/** A container of the rulebook for a tube. */
export const containerOf = (v, tube) => v.book.containers[tube.kind] ?? {};

/** Several of the same thing in words: "1 tube", "3 tubes". */
export const count = (number, noun) => `${number} ${noun}${number === 1 ? "" : "s"}`;
