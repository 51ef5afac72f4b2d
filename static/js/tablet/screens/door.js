// At the door: precautions first, what to have in hand, what to know.

import { childWords, ml } from "../child.js";
import { isBottle, needsOf } from "../carrying.js";
import { capColour } from "../parts/tube.js";
import { el } from "../parts/dom.js";
import { moreLine } from "../parts/more.js";
import { rack } from "../parts/rack.js";
import { lines } from "../parts/choices.js";
import { windowLines } from "../windows.js";
import { RESTRICTION } from "../words.js";
import { bloodLine, waitWords } from "./blood.js";
import { bedOf, closedArms, countOf, notDrawn, wrong } from "./common.js";

const NEEDLE = { straight: "straight needle", winged: "winged set (butterfly)", syringe: "syringe" };

export function door(v, desk) {
  const { visit, patient } = v;
  const needs = needsOf(visit);
  return {
    name: "door",
    sentence: visit.isolation ? `Stop: ${visit.isolation} precautions` : `${patient.name}`,
    aside: visit.isolation
      ? `${patient.name}, ${bedOf(visit)}. Protective clothing on before the door.`
      : `${countOf(visit.tubes)}, ${NEEDLE[visit.needle] ?? visit.needle}. Clean your hands.`,
    body: [
      lines([...alike(desk, visit), ...(visit.notes ?? [])], "note"),
      ...windowsOf(v),
      lines([childWords(v)], "act"),
      lines(v.allowed ? waitWords(v) : [], "act"),
      lines(needs.map(({ says, hint }) => `With you: ${says}${hint ? ` (${hint})` : ""}`), "act"),
      lines(
        [
          ...closedSides(patient),
          patient.blood_thinner ? "Blood thinner: press for longer" : null,
          twoSets(visit),
        ],
        "act",
      ),
      rack(v.done.tubes, v.book.containers, {
        lines: (tube, container) => [
          capColour(container),
          exactVolume(v, tube),
          ...(tube.handling ?? []).map(handlingWords),
        ],
      }),
      planFindings(v),
      bloodButton(v, desk),
    ],
    main: {
      says: `I am at ${bedOf(visit)}`,
      hint: needs.length ? `with ${needs.map(({ says }) => says).join(", ")}` : null,
      act: () => desk.act([{ kind: "arrived" }]),
    },
    row: [
      needs.length ? { says: "Not with me: back", act: () => desk.leaveVisit() } : null,
      notDrawn(desk),
      wrong(desk),
    ].filter(Boolean),
  };
}

// What kind of level it is and how its window stands, worst first.
function windowsOf(v) {
  const told = windowLines(v.visit, v.houseMs, v.book, v.zone);
  return ["stop", "act"].map((look) => lines(told.filter((each) => each.look === look).map(({ says }) => says), look));
}

function bloodButton(v, desk) {
  const { says, aside, look } = bloodLine(v);
  return moreLine(says, () => desk.openPage("blood"), { aside, look });
}

/** "to 8 mL" where the volume itself matters: a bottle, and a patient who may only give so much. */
export function exactVolume(v, tube) {
  const limited = v.visit.limits?.max_draw_ml ?? null;
  const volume = tube.draw_ml ?? tube.nominal_ml;
  return volume && (isBottle(tube) || limited !== null) ? `to ${ml(volume)}` : null;
}

const closedSides = (patient) =>
  Object.entries(closedArms(patient, RESTRICTION))
    .filter(([, why]) => why)
    .map(([side, why]) => `${side.toUpperCase()} arm closed: ${why}`);

// OD-18: two sets from two sites (secondary source); only where the plan has two.
function twoSets(visit) {
  const sets = visit.tubes.filter(({ kind }) => kind === "culture-aerobic").length;
  return sets > 1 ? `${sets} sets of culture bottles: each from a site of its own` : null;
}

const handlingWords = (word) =>
  ({
    ice: "on ice",
    "37C": "keep warm",
    "protect-from-light": "no light",
    "full-draw": "full draw",
    "no-gel": "no gel",
    "to-lab-at-once": "to lab at once",
  })[word] ?? word;

function alike(desk, visit) {
  const others = (visit.names_alike ?? [])
    .map((id) => desk.packet.visits.find((each) => each.id === id))
    .filter(Boolean);
  return others.map((other) => `A name like this one: ${other.patient.name}, ${bedOf(other)}`);
}

function planFindings(v) {
  const found = (v.visit.plan_findings ?? [])
    .map((finding) => finding.says ?? v.book.findings[finding.code]?.wording?.ask?.says)
    .filter(Boolean);
  return found.length ? el("div", {}, lines(found, "act")) : null;
}
