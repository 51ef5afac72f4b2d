// The round as a corridor: rooms in walking order, the next door open. Name and bed only, nothing that identifies.

import { corridor, nurseCollects } from "../parts/corridor.js";
import { clockTime, minutesBetween } from "../parts/when.js";
import { endedWords } from "../words.js";
import { bedOf, count } from "./common.js";

export function round(desk) {
  const { packet } = desk;
  const stops = desk.stops();
  const wards = new Set(stops.map(({ visit }) => visit.ward)).size;
  const begun = stops.find(({ visit, done }) => isBegun(visit, done));
  const next = begun ?? stops.find(({ visit, done }) => isOpen(visit, done));
  if (!next) return finished(desk, stops);
  return {
    name: "round",
    sentence: begun ? `Go on: ${bedOf(next.visit)}` : `Next: ${bedOf(next.visit)}`,
    body: [corridor(stops.map((stop) => door(desk, stop, next, wards))), nurseCollects(packet.nurse_collect)],
    main: {
      says: begun ? `Back to ${bedOf(next.visit)}` : `Go to ${bedOf(next.visit)}`,
      act: () => desk.goTo(next.visit.id),
    },
    row: [
      { says: "Supplies", act: () => desk.openPage("supplies") },
      { says: "To the lab", act: () => desk.openPage("to_lab") },
      { says: "This tablet", act: () => desk.openPage("this_tablet") },
    ],
  };
}

const isOpen = (visit, done) => !done.ended && !visit.ended && !visit.cancelled;
const isBegun = (visit, done) => isOpen(visit, done) && Boolean(done.arrived);

function finished(desk, stops) {
  const tubes = stops.flatMap(({ done }) => done.kept.filter((tube) => tube.bagged));
  return {
    name: "round",
    sentence: stops.length ? "The round is finished" : "No beds on this round",
    aside: stops.length
      ? `${count(tubes.length, "tube")} to bring to the lab.`
      : "A new packet comes by itself as soon as there are orders.",
    body: [
      corridor(
        stops.map((stop) => door(desk, stop, null, new Set(stops.map(({ visit }) => visit.ward)).size)),
      ),
      nurseCollects(desk.packet.nurse_collect),
    ],
    main: { says: "To the lab", act: () => desk.openPage("to_lab") },
    row: [
      { says: "Ask for new orders", act: () => desk.refresh() },
      { says: "This tablet", act: () => desk.openPage("this_tablet") },
    ],
  };
}

function door(desk, { visit, done }, next, wards) {
  const ended = done.ended ?? visit.ended;
  return {
    id: visit.id,
    room: visit.room,
    bed: visit.bed,
    ward: wards > 1 ? visit.ward : null,
    name: visit.patient.name,
    state:
      ended || visit.cancelled
        ? "done"
        : visit === next?.visit
          ? done.arrived
            ? "begun"
            : "next"
          : done.arrived
            ? "begun"
            : "open",
    about: ended ? afterwards(desk, ended, done) : visit.cancelled ? "cancelled" : before(visit),
    why: ended || visit.cancelled ? unwritten(done) : why(desk, visit),
    onOpen: () => (done.ended ? desk.openStory(visit.id) : desk.goTo(visit.id)),
  };
}

function afterwards(desk, ended, done) {
  const data = ended.data ?? ended;
  const told = data.told?.role ? `, ${data.told.role} told` : "";
  const note = done.unwritten.length ? ", note not written" : "";
  return `${endedWords(data.outcome)} ${clockTime(ended.at, desk.packet.zone)}${told}${note}`;
}

const unwritten = (done) => (done.unwritten.length ? [{ says: "NOTE", look: "stop" }] : []);

function before(visit) {
  const { patient } = visit;
  const closed = (patient.restrictions ?? []).map(({ side }) => `${side} arm closed`);
  return [
    count(visit.tubes.length, "tube"),
    visit.isolation ? `${visit.isolation} precautions` : null,
    patient.blood_thinner ? "blood thinner" : null,
    ...closed,
    ...handling(visit),
  ]
    .filter(Boolean)
    .join(" · ");
}

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
  const now = desk.moment().at;
  const left = minutesBetween(now, visit.due_to);
  const early = minutesBetween(now, visit.due_from);
  const tight = left !== null && left <= 60;
  return [
    visit.priority === "stat" || visit.priority === "asap"
      ? { says: visit.priority.toUpperCase(), look: "stop" }
      : null,
    visit.names_alike?.length ? { says: "NAMES", look: "note" } : null,
    left !== null && left < 0
      ? { says: `${-left} min late`, look: "stop" }
      : tight
        ? { says: `${left} min`, look: "act" }
        : early !== null && early > 0
          ? { says: `from ${clockTime(visit.due_from, desk.packet.zone)}` }
          : visit.due_to
            ? { says: `by ${clockTime(visit.due_to, desk.packet.zone)}` }
            : null,
  ].filter(Boolean);
}
