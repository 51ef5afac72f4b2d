// What several screens share: the two actions that stand beside almost every main one, and words for what is at hand.

import { ofKind } from "../visit.js";

export { count, countOf, noun, Numbered, numbered } from "../naming.js";

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

const ROLE_WORDS = { charge_nurse: "charge nurse", phlebotomist: "colleague" };

/** Whom one may have told, most likely first: [{name, role}]. Told before on this tablet, then the people of the packet. */
export function peopleToTell(desk) {
  const before = [...desk.events.values()].flat().map(({ data }) => data?.told ?? data?.data?.told);
  const people = Object.entries(desk.packet?.people ?? {})
    .filter(([id, { role }]) => id !== desk.packet.by && ROLE_WORDS[role])
    .map(([, { name, role }]) => ({ name, role: ROLE_WORDS[role] }))
    .sort((a, b) => (a.role < b.role ? -1 : 1));
  const named = [...before.reverse(), ...people].filter((each) => each?.name);
  return [...new Map(named.map((each) => [each.name, { name: each.name, role: each.role }])).values()];
}

/** Why a closed arm may be used: the words its written order was recorded with; null where there is none. */
export function writtenOrder(v) {
  const site = v.done.prep.site?.event;
  const found = ofKind(v.done.facts, "went_ahead").find(
    ({ data }) => site && data.event === site.id && data.finding === "site-restricted",
  );
  return found?.data.reason ?? null;
}

/** Acts at an arm that a written order opens: the order is named with each, so that nobody is asked again. */
export function underOrder(v, desk, acts) {
  const reason = writtenOrder(v);
  if (!reason) return acts;
  return acts.flatMap((act) =>
    ["tourniquet_on", "needle_in"].includes(act.kind) ? byOrder({ ...act, id: desk.newId() }, reason) : [act],
  );
}

/** An act and the order it goes by. */
export const byOrder = (act, reason) => [
  act,
  { kind: "went_ahead", data: { finding: "site-restricted", event: act.id, reason } },
];
