// What is said of tubes on the way: by when the lab needs them, and how they are kept.

import { clockTime } from "../parts/when.js";
import { countOf } from "../naming.js";
import { leftWords } from "../good_until.js";

const look = (tone) => ({ calm: "plain", act: "act", stop: "stop" })[tone];

/** "1 tube must be in the lab by 07:42 · 12 min": {says, look}. @param first of good_until.js */
export function firstWords(first, zone) {
  const { what, by, leftS, tone, tubes } = first;
  const must = leftS < 0 ? "should have been" : "must be";
  const where = what === "spin" ? "spun" : "in the lab";
  return { says: `${countOf(tubes)} ${must} ${where} by ${clockTime(by, zone)} · ${leftWords(leftS)}`, look: look(tone) };
}

/** The same for the head of a screen, shorter: "lab by 07:42 · 12 min". */
export function headWords({ what, by, leftS, tone }, zone) {
  const place = what === "spin" ? "spin" : "lab";
  const says = leftS < 0 ? `${place}: ${leftWords(leftS)}` : `${place} by ${clockTime(by, zone)} · ${leftWords(leftS)}`;
  return { says, look: look(tone) };
}

/** The same for one tube's line. */
export function deadlineWords(deadline) {
  if (!deadline) return { says: "no clock", look: "plain" };
  return { says: leftWords(deadline.leftS), look: look(deadline.tone) };
}

const KEPT = { ice: "on ice", "37C": "at 37 °C", dark: "in the dark", room: "at room temperature", other: "otherwise" };

/** "on ice, in the dark": how a tube is to be kept; "" where the packet does not say. */
export const keepWords = (keep) =>
  (keep ?? [])
    .filter((word, _, all) => word !== "room" || all.length === 1)
    .map((word) => KEPT[word] ?? word)
    .join(", ");

/** Each clock of a tube in a few words: "in the lab by 07:42", "clots until 07:30", "spun by 08:30". */
export function clockWords(clocks, zone) {
  return clocks.map((clock) => CLOCK[clock.what]?.(clock, zone) ?? clock.says);
}

const CLOCK = {
  "in-lab": ({ by }, zone) => `in the lab by ${clockTime(by, zone)}`,
  spin: ({ by }, zone) => `spun by ${clockTime(by, zone)}`,
  clot: ({ fromS, goneS, since }, zone) =>
    goneS < fromS ? `upright to clot until ${clockTime(since, zone)}` : "stands upright, has clotted",
};
