// A child without a weight: nothing is drawn before it is put in. Who does that, and where, is said here.

import { ageWords } from "../child.js";
import { lines } from "../parts/choices.js";
import { bedOf, notDrawn, spokenName, wrong } from "./common.js";

export function weighFirst(v, desk) {
  const { visit, patient } = v;
  return {
    name: "weigh_first",
    tone: "stop",
    sentence: "Weigh first: nothing is drawn yet",
    aside: `${spokenName(patient.name)}, ${bedOf(visit)}, ${ageWords(patient.birth_date, v.now.at)} old. ${visit.volume?.says?.[0] ?? ""}`,
    body: [
      lines(STEPS, "stop"),
      lines([desk.refreshSays || null], "act"),
    ],
    main: { says: "Ask for new orders", hint: "once the weight is entered", act: () => desk.refresh() },
    row: [notDrawn(desk), wrong(desk)],
  };
}

// BV-03, BV-06: what a child may give is reckoned by weight. No event carries a weight: the ward's page keeps it.
const STEPS = [
  "Weigh the child, or read today's weight in the chart",
  "The charge nurse enters it on the ward's pages, under Blood volume",
  "Ask for new orders: the tubes come with them",
];
