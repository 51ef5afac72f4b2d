// On the way: every tube that is carried, its clock and how it is kept, the soonest first; all of them are handed over, or
// those that are touched.

import { clocksOf, isUnderWay, soonestFirst } from "../good_until.js";
import { el } from "../parts/dom.js";
import { live } from "../parts/live.js";
import { wordsFor } from "../parts/tube.js";
import { ticked } from "../parts/ticked.js";
import { countOf } from "./common.js";
import { clockWords, deadlineWords, firstWords, keepWords } from "./lab_words.js";

export function toLab(desk, page) {
  const now = desk.moment();
  const all = soonestFirst(desk.carried(), now);
  const [ready, atTheBed] = [all.filter(isUnderWay), all.filter((each) => !isUnderWay(each))];
  const left = new Set(page.left ?? []);
  const going = ready.filter(({ tube }) => !left.has(tube.id));
  const first = desk.firstForLab(now);
  return {
    name: "to_lab",
    sentence: sentence(all, ready),
    aside: first ? firstLine(desk, first) : all.length ? "No clock runs on them." : emptyWords(desk),
    body: [
      ticked(
        ready.map((each) => line(desk, each, now, left)),
        { label: "To hand over", name: ready.length > 1 ? "Touch what stays with you" : null },
      ),
      ticked(
        atTheBed.map((each) => line(desk, each, now, null)),
        { label: "At a bed", name: "Still at the bed, not bagged" },
      ),
    ],
    main: going.length ? { says: mainWords(going, ready), act: () => handOver(desk, going) } : back(desk),
    row: going.length ? [{ ...back(desk), look: "plain" }] : [],
  };
}

function sentence(all, ready) {
  if (all.length === 0) return "Nothing to bring to the lab";
  return ready.length ? `${countOf(ready.map(tubeOf))} to the lab` : "Nothing is bagged yet";
}

const handOver = (desk, going) => desk.openPage("hand_over", { tubes: going.map(({ tube }) => tube.id) });

function firstLine(desk, first) {
  const { zone } = desk.packet;
  const { says, look } = firstWords(first, zone);
  const node = el("span", { class: "first-wanted", data: { look } }, says);
  return live(node, (instant) => {
    const now = desk.firstForLab(instant);
    return now && firstWords(now, zone);
  });
}

const tubeOf = ({ tube }) => tube;

function mainWords(going, ready) {
  if (going.length < ready.length) return `Hand over ${going.length} of ${ready.length}`;
  return `Hand over ${ready.length > 1 ? `all ${ready.length}` : countOf(ready.map(tubeOf))}`;
}

/** Where a page of the tablet leads back to. */
export const back = (desk) => ({
  says: desk.place.visit ? "Back to the bed" : "Back to the round",
  look: "quiet",
  act: () => desk.closePage(),
});

function emptyWords(desk) {
  const over = desk.handedOver();
  if (over === 0) return "What is filled stands here, with its clock.";
  return over === 1 ? "The one carried so far is handed over." : `All ${over} carried so far are handed over.`;
}

function line(desk, { visit, tube, done }, now, left) {
  const { zone } = desk.packet;
  const container = desk.bookOf(visit.id).containers[tube.kind] ?? {};
  const isGoing = left !== null && !left.has(tube.id);
  const tell = (instant) => deadlineWords(soonestFirst([{ visit, tube, done }], instant)[0].deadline);
  const told = tell(now);
  const clocks = clockWords(clocksOf(tube, now), zone);
  return {
    says: `${visit.room} ${visit.bed}: ${wordsFor(container, tube)}`,
    about: [
      [keepWords(tube.good?.keep), ...clocks].filter(Boolean).join(" · "),
      [...(tube.names ?? [tube.why]), done.ended && !tube.readRight ? "NOT LABELLED" : null].filter(Boolean).join(", "),
    ],
    mark: told.says,
    look: told.look,
    live: tell,
    isTicked: isGoing,
    onTick: () => (left === null ? desk.goTo(visit.id) : toggle(desk, tube.id, left)),
  };
}

function toggle(desk, id, left) {
  const next = left.has(id) ? [...left].filter((each) => each !== id) : [...left, id];
  desk.setPage({ left: next });
}
