// Pressure held, the uncovered site watched, then tape: only when it is dry, and was looked at late enough.

import { big, countdown } from "../parts/big.js";
import { lines } from "../parts/choices.js";
import { secondsSince } from "../clocks.js";
import { wrong } from "./common.js";

export function site(v, desk) {
  if (v.draft.watch) return watching(v, desk);
  const { needle } = v.done;
  if (needle?.taped) return taped(desk);
  if (!needle?.pressure) return press(desk);
  return isDry(needle) && !wasEarly(v) ? dry(v, desk) : holding(v, desk);
}

const isDry = (needle) => needle.look?.data?.bleeding === false;

// A look before the pressure was held for long enough is not the one that ends it.
const wasEarly = (v) => secondsSince(v.done.needle.pressure, v.done.needle.look) < v.limits.pressure;

function press(desk) {
  return {
    name: "site",
    sentence: "Press on the site",
    aside: "Gauze on, firmly, arm straight. The patient may press if able.",
    body: [],
    main: { says: "Pressure is on", act: () => desk.act([{ kind: "pressure_on" }]) },
    row: [...back(desk), wrong(desk)],
  };
}

function holding(v, desk) {
  const held = secondsSince(v.done.needle.pressure, v.now);
  const enough = held >= v.limits.pressure;
  const early = isDry(v.done.needle);
  const { bled } = v.done.needle;
  return {
    name: "site",
    sentence: enough
      ? early
        ? "Now look once more"
        : "Now look at the site"
      : bled
        ? "Still bleeding: press again"
        : "Keep the pressure on",
    aside: enough
      ? null
      : `${early ? "It was dry, but that was early. " : ""}Arm straight, not bent. In all ${v.limits.pressureSays}.`,
    body: [
      enough
        ? big("lift the gauze", "watch it bare: no blood, no swelling")
        : countdown(v.done.needle.pressure, v.limits.pressure, "to go", v.now),
      lines([bled ? v.book.first_aid?.long_bleeding?.steps[1] : null], "act"),
    ],
    main: {
      says: "Look at the site",
      hint: enough ? "long enough" : "it is early",
      look: enough ? "act" : "quiet",
      act: () => desk.setDraft({ watch: desk.moment() }),
    },
    row: [
      ...(early ? [{ says: "It is taped already", act: () => tape(desk) }] : []),
      ...back(desk),
      wrong(desk),
    ],
  };
}

const back = (desk) =>
  desk.place.over.at(-1)?.name === "site" ? [{ says: "Back to the tubes", act: () => desk.closePage() }] : [];

function watching(v, desk) {
  const watched = secondsSince(v.draft.watch, v.now);
  const enough = watched >= v.limits.look;
  const look = (bleeding) => ({
    kind: "site_looked",
    data: { bleeding, watched_s: Math.floor(secondsSince(v.draft.watch, desk.moment())) },
  });
  return {
    name: "site",
    sentence: enough ? "What do you see?" : "Watch the bare site",
    body: [
      enough
        ? big("dry?", "no blood, no mound under the skin")
        : countdown(v.draft.watch, v.limits.look, "no blood, no mound under the skin", v.now),
    ],
    main: {
      says: "It is dry",
      hint: enough ? "no blood, no swelling" : "keep watching",
      off: !enough,
      act: () => desk.act([look(false)], { watch: null }),
    },
    row: [
      { says: "Still bleeding", act: () => desk.act([look(true), { kind: "pressure_on" }], { watch: null }) },
      { says: "Back", act: () => desk.setDraft({ watch: null }) },
      wrong(desk),
    ],
  };
}

function dry(v, desk) {
  return {
    name: "site",
    sentence: "Dry: tape it",
    aside: "Nothing heavy with that arm for a while. Tell the patient to press again if it bleeds.",
    body: [big("tape", "over the gauze, not around the arm")],
    main: { says: "Taped", act: () => tape(desk) },
    row: [{ says: "Look again", act: () => desk.setDraft({ watch: desk.moment() }) }, ...back(desk), wrong(desk)],
  };
}

// Held up by the gate, this page stays underneath: going back leads to holding on.
async function tape(desk) {
  await desk.act([{ kind: "taped" }]);
  if (desk.place.over.at(-1)?.name === "site" && desk.view().done.needle.taped) desk.closePage();
}

function taped(desk) {
  return {
    name: "site",
    sentence: "It is taped",
    body: [],
    main: { says: "On with the tubes", act: () => desk.closePage() },
    row: [wrong(desk)],
  };
}
