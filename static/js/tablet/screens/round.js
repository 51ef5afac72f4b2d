// The round as a corridor: what must not wait first, then rooms in walking order, what is done apart. Name and bed only,
// nothing that identifies.

import { secondsOn } from "../clocks.js";
import { lines } from "../parts/choices.js";
import { corridor, nurseCollects } from "../parts/corridor.js";
import { moreLine } from "../parts/more.js";
import { clockTime, spanText } from "../parts/when.js";
import { countdown, pressing } from "../windows.js";
import { WINDOW_MISSED, endedWords } from "../words.js";
import { elsewhereWords } from "./begun_elsewhere.js";
import { bedOf, count, countOf } from "./common.js";
import { isUntold } from "./ended.js";
import { firstWords } from "./lab_words.js";

const CLOCK_SET_BACK = "The clock of this tablet was set back: what is due when is not right here. Go by the clock on the wall.";

export function round(desk) {
  const stops = desk.stops();
  const unsettled = desk.unsettled();
  const [open, over] = [stops.filter(isOpen), stops.filter((stop) => !isOpen(stop))];
  const begun = unsettled[0] ?? open.find(({ done }) => done.arrived);
  const next = begun ?? open.find(({ visit }) => !desk.elsewhere(visit)) ?? open[0];
  const walk = walkOf(desk, stops, unsettled, next);
  const rest = open.filter(({ visit }) => !unsettled.some((each) => each.visit.id === visit.id));
  return {
    name: "round",
    ...(next ? whereTo(desk, next, unsettled[0]) : finished(desk, stops)),
    body: [
      lines([desk.refreshSays, desk.engine.status.clockSetBack ? CLOCK_SET_BACK : ""], "act"),
      onTheWay(desk),
      unsettled.length ? corridor(unsettled.map((stop) => walk(stop)), { look: "owed" }) : null,
      rest.length ? corridor(rest.map((stop) => walk(stop))) : null,
      over.length ? corridor(over.map((stop) => walk(stop)), { name: "Done" }) : null,
      nurseCollects(desk.packet.nurse_collect),
    ],
  };
}

// The tube that is wanted first, whatever else there is to do.
function onTheWay(desk) {
  const words = (instant) => {
    const first = desk.firstForLab(instant);
    return first && firstWords(first, desk.packet.zone);
  };
  const told = words(desk.moment());
  return told ? moreLine(told.says, () => desk.openPage("to_lab"), { look: told.look, live: words }) : null;
}

/** Whether a stop is still to be made: not ended here or elsewhere, not cancelled. */
export const isOpen = ({ visit, done }) => !done.ended && !visit.ended && !visit.cancelled;

function whereTo(desk, { visit, done }, owed) {
  const bed = bedOf(visit);
  return {
    sentence: owed ? `Go back to ${bed}: ${owed.owed[0].says}` : done.arrived ? `Go on: ${bed}` : `Next: ${bed}`,
    main: {
      says: done.arrived ? `Back to ${bed}` : `Go to ${bed}`,
      look: owed ? "stop" : "act",
      act: () => desk.goTo(visit.id),
    },
    row: [
      { says: "Supplies", act: () => desk.openPage("supplies") },
      { says: "To the lab", act: () => desk.openPage("to_lab") },
      { says: "This tablet", act: () => desk.openPage("this_tablet") },
    ],
  };
}

function finished(desk, stops) {
  const tubes = desk.carried().map(({ tube }) => tube);
  const toLab = { says: "To the lab", act: () => desk.openPage("to_lab") };
  const ask = { says: "Ask for new orders", act: () => desk.refresh() };
  return {
    sentence: stops.length ? "The round is finished" : "No beds on this round",
    aside: tubes.length
      ? `${countOf(tubes)} to bring to the lab.`
      : stops.length
        ? "Nothing is left to bring to the lab."
        : "A new packet comes by itself as soon as there are orders.",
    main: tubes.length ? toLab : ask,
    row: [tubes.length ? ask : toLab, { says: "This tablet", act: () => desk.openPage("this_tablet") }],
  };
}

/** Draws one stop of the walk. */
function walkOf(desk, stops, unsettled, next) {
  const wards = new Set(stops.map(({ visit }) => visit.ward)).size;
  return (stop) => {
    const { visit, done } = stop;
    const { owed = null } = unsettled.find((each) => each.visit.id === visit.id) ?? {};
    return {
      id: visit.id,
      room: visit.room,
      bed: visit.bed,
      ward: wards > 1 ? visit.ward : null,
      name: visit.patient.name,
      state: owed ? "owed" : stateOf(stop, next),
      about: aboutOf(desk, stop, stops, owed),
      why: owed ? running(desk, stop) : isOpen(stop) ? why(desk, visit) : unwritten(done),
      onOpen: () => (done.ended ? desk.openStory(visit.id) : desk.goTo(visit.id)),
    };
  };
}

function stateOf(stop, next) {
  if (!isOpen(stop)) return "done";
  if (stop.done.arrived) return "begun";
  return stop.visit === next?.visit ? "next" : "open";
}

function aboutOf(desk, { visit, done }, stops, owed) {
  const told = desk.elsewhere(visit);
  const words = owed
    ? owed.map(({ says }) => says).join(", ")
    : done.ended
      ? afterwards(desk, done)
      : told
        ? elsewhereWords(desk, told)
        : visit.cancelled
          ? "cancelled"
          : before(visit);
  return [words, done.ended ? null : twice(desk, visit, stops)].filter(Boolean).join(" · ");
}

// The clocks that run at a bed nobody is at.
function running(desk, stop) {
  return desk.clocksOf(stop).map((clock) => ({
    look: "stop",
    live: (instant) => ({ says: `${clock.kind} ${spanText(secondsOn(clock, instant))}`, look: "stop" }),
    says: `${clock.kind} ${spanText(secondsOn(clock, desk.moment()))}`,
  }));
}

/** Another visit of the same patient: what became of it, or that there are two. */
function twice(desk, visit, stops) {
  const others = stops.filter((stop) => stop.visit.id !== visit.id && stop.visit.patient.id === visit.patient.id);
  const before = others.map(({ visit: other, done }) => done.ended ?? other.ended).filter(Boolean);
  if (before.length) {
    const last = before.at(-1);
    return `again: ${endedWords((last.data ?? last).outcome)} ${clockTime(last.at, desk.packet.zone)}`;
  }
  return others.length ? `${others.length + 1} visits of this patient` : null;
}

function afterwards(desk, done) {
  const { data, at } = done.ended;
  const told = isUntold(data) ? ", nobody told yet" : data.told?.role ? `, ${data.told.role} told` : "";
  const note = done.unwritten.length ? ", note not complete" : "";
  const blood = done.kept.some((tube) => !tube.readRight) ? ", not labelled" : "";
  const missed = isMissed(done) ? `, ${data.reason}` : "";
  return `${endedWords(data.outcome)} ${clockTime(at, desk.packet.zone)}${missed}${told}${blood}${note}`;
}

const isMissed = ({ ended }) => Boolean(ended?.data.reason?.startsWith(WINDOW_MISSED));

const unwritten = (done) =>
  [
    isMissed(done) ? { says: "MISSED", look: "stop" } : null,
    done.ended && isUntold(done.ended.data) ? { says: "TELL", look: "stop" } : null,
    done.unwritten.length ? { says: "NOTE", look: "stop" } : null,
  ].filter(Boolean);

function before(visit) {
  const { patient } = visit;
  const closed = (patient.restrictions ?? []).map(({ side }) => `${side} arm closed`);
  return [
    countOf(visit.tubes),
    ...lacking(visit),
    visit.isolation ? `${visit.isolation} precautions` : null,
    patient.blood_thinner ? "blood thinner" : null,
    ...closed,
    ...handling(visit),
  ]
    .filter(Boolean)
    .join(" · ");
}

// An order the directory has no test for stands here, too, so that nobody takes the bed for done without it.
const lacking = ({ orders = [] }) =>
  orders.filter((order) => order.in_directory === false).map((order) => `${order.name}: no tube known`);

function handling(visit) {
  const asked = new Set(visit.tubes.flatMap((tube) => tube.handling ?? []));
  return ["ice", "37C", "protect-from-light", "to-lab-at-once"]
    .filter((each) => asked.has(each))
    .map((each) => HANDLING[each]);
}

const HANDLING = {
  ice: "on ice",
  "37C": "kept warm",
  "protect-from-light": "out of the light",
  "to-lab-at-once": "to the lab at once",
};

function why(desk, visit) {
  const { zone } = desk.packet;
  const { book } = desk.packetInUse();
  const told = (ms) => {
    const [most] = pressing(visit, ms, book);
    return most ? countdown(most, ms, zone) : [];
  };
  return [
    visit.priority === "stat" || visit.priority === "asap"
      ? { says: visit.priority.toUpperCase(), look: "stop" }
      : null,
    visit.names_alike?.length ? { says: "NAMES", look: "note" } : null,
    ...told(desk.engine.serverNow()).map((line, place) => ({
      ...line,
      live: () => told(desk.engine.serverNow())[place] ?? line,
    })),
  ].filter(Boolean);
}
