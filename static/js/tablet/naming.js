// What containers are called: a culture goes into a bottle, everything else into a tube. Pure.

import { isBottle } from "./carrying.js";

/** What a container is called on its own. */
export const noun = (tube) => (isBottle(tube) ? "bottle" : "tube");

/** "tube 2", "bottle 1"; with a capital where a sentence begins. */
export const numbered = (tube) => `${noun(tube)} ${tube.number}`;
export const Numbered = (tube) => `${isBottle(tube) ? "Bottle" : "Tube"} ${tube.number}`;

/** Several of the same thing in words: "1 tube", "3 tubes". */
export const count = (number, thing) => `${number} ${thing}${number === 1 ? "" : "s"}`;

/** "2 bottles, 3 tubes" */
export function countOf(tubes) {
  const bottles = tubes.filter(isBottle).length;
  const rest = tubes.length - bottles;
  return [bottles ? count(bottles, "bottle") : null, rest || !bottles ? count(rest, "tube") : null]
    .filter(Boolean)
    .join(", ");
}
