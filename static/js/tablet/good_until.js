// What is on its way to the laboratory, how it is kept and until when it is good. Pure: the reading of the clock comes in.
// Minutes and sentences come from the packet; here they are only counted from the moment of filling.

import { secondsSince } from "./clocks.js";
import { later } from "./parts/when.js";

const MINUTE = 60;

// How long before its end a clock is told on every screen: the last quarter of its time, and never under ten minutes.
// Common practice, no source.
const TELL_SHARE = 4;
const TELL_LEAST_S = 10 * MINUTE;

/** The filled containers of these visits that are kept and not handed over yet: [{visit, tube, done}]. */
export function carriedIn(stops) {
  return stops.flatMap(({ visit, done }) =>
    done.kept.filter((tube) => !tube.handedOver).map((tube) => ({ visit, tube, done })),
  );
}

/** Whether the tube may leave this hand: in its bag, or its visit is over. */
export const isUnderWay = ({ tube, done }) => Boolean(tube.bagged || done.ended);

/**
 * The clocks of a filled tube: [{what: "in-lab"|"spin"|"clot", says, fromS, withinS, since, by: ISO or null, goneS}].
 * @param now {at, page, mono_ms}
 */
export function clocksOf(tube, now) {
  const { filled } = tube;
  if (!filled) return [];
  const goneS = secondsSince(filled, now, true);
  return (tube.good?.clocks ?? []).map(({ what, says, from_min: from, within_min: within }) => ({
    what,
    says,
    fromS: from === null || from === undefined ? null : from * MINUTE,
    withinS: within === null || within === undefined ? null : within * MINUTE,
    by: later(filled.at, within),
    since: later(filled.at, from),
    goneS,
  }));
}

// Standing to clot is no deadline of whoever carries it: being spun in time is.
const isDeadline = ({ what, withinS }) => ["in-lab", "spin"].includes(what) && withinS !== null;

/** What runs out first for one tube: {what, says, by, leftS, tone: "calm"|"act"|"stop"}, or null. */
export function deadlineOf(tube, now) {
  const all = clocksOf(tube, now).filter(isDeadline).map(counted);
  return all.sort((a, b) => a.leftS - b.leftS)[0] ?? null;
}

function counted({ what, says, by, withinS, goneS }) {
  const leftS = withinS - goneS;
  const near = Math.max(withinS / TELL_SHARE, TELL_LEAST_S);
  return { what, says, by, leftS, tone: leftS < 0 ? "stop" : leftS <= near ? "act" : "calm" };
}

/** The same with their deadlines, soonest first; what has none comes last: [{visit, tube, done, deadline}]. */
export function soonestFirst(carried, now) {
  const left = ({ deadline }) => deadline?.leftS ?? Infinity;
  return carried
    .map((each) => ({ ...each, deadline: deadlineOf(each.tube, now) }))
    .sort((a, b) => (left(a) < left(b) ? -1 : left(a) > left(b) ? 1 : 0));
}

/** What runs out first of all that is carried, and the tubes it is the same minute for: {…deadline, tubes}, or null. */
export function firstDeadline(carried, now) {
  const [first] = soonestFirst(carried, now);
  if (!first?.deadline) return null;
  const isSame = ({ deadline }) =>
    deadline?.what === first.deadline.what && Math.abs(deadline.leftS - first.deadline.leftS) < MINUTE;
  const tubes = soonestFirst(carried, now).filter(isSame).map(({ tube }) => tube);
  return { ...first.deadline, tubes };
}

/** "12 min", "less than a minute", "3 min late": whole minutes, and never more than there are. */
export function leftWords(leftS) {
  if (leftS < 0) return `${spanOf(Math.ceil(-leftS / MINUTE))} late`;
  const minutes = Math.floor(leftS / MINUTE);
  return minutes < 1 ? "less than a minute" : spanOf(minutes);
}

const spanOf = (minutes) =>
  minutes < 100 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")}`;

/** How it was kept: as it should be, or with what it needed and did not get. Words of the contract. */
export function keptAs(tube, asAsked) {
  const keep = tube.good?.keep ?? [];
  if (asAsked) return keep;
  return keep.every((word) => word === "room") ? ["other"] : ["room"];
}
