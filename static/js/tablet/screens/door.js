// At the door: precautions first, what to carry in, what to know.

import { capColour } from "../parts/tube.js";
import { el } from "../parts/dom.js";
import { rack } from "../parts/rack.js";
import { lines } from "../parts/choices.js";
import { RESTRICTION } from "../words.js";
import { bedOf, closedArms, count, notDrawn, wrong } from "./common.js";

const NEEDLE = { straight: "straight needle", winged: "winged set (butterfly)", syringe: "syringe" };

export function door(v, desk) {
  const { visit, patient } = v;
  const closed = Object.entries(closedArms(patient, RESTRICTION))
    .filter(([, why]) => why)
    .map(([side, why]) => `${side.toUpperCase()} arm closed: ${why}`);
  return {
    name: "door",
    sentence: visit.isolation ? `Stop: ${visit.isolation} precautions` : `${patient.name}`,
    aside: visit.isolation
      ? `${patient.name}, ${bedOf(visit)}. Protective clothing on before the door.`
      : `${count(visit.tubes.length, "tube")}, ${NEEDLE[visit.needle] ?? visit.needle}. Clean your hands.`,
    body: [
      lines([...alike(desk, visit), ...(visit.notes ?? [])], "note"),
      lines(
        [
          ...closed,
          patient.blood_thinner ? "Blood thinner: press for longer" : null,
          patient.latex_allergy ? "Latex allergy: no latex" : null,
        ],
        "act",
      ),
      rack(v.done.tubes, v.book.containers, {
        lines: (tube, container) => [capColour(container), ...(tube.handling ?? []).map(handlingWords)],
      }),
      planFindings(v),
    ],
    main: {
      says: `I am at ${bedOf(visit)}`,
      hint: visit.isolation ? "protective clothing on, hands clean" : null,
      act: () => desk.act([{ kind: "arrived" }]),
    },
    row: [{ says: "Back to the round", act: () => desk.leaveVisit() }, notDrawn(desk), wrong(desk)],
  };
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
