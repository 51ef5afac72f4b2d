// The rules on this tablet answer otherwise than the house's: no visit is begun by them. The list stays to be read.

import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";
import { bedOf } from "./common.js";

export function rulesRefused(desk) {
  const { name, why } = desk.rulesFault();
  const stops = desk.stops();
  const begun = stops.find(({ visit, done }) => done.arrived && !done.ended && !visit.ended);
  return {
    name: "rules_refused",
    tone: "stop",
    sentence: "The rules did not pass their self-test",
    body: [
      el("p", { class: "do-next" }, DO_NEXT),
      lines(stops.map(({ visit, done }) => `${bedOf(visit)}, ${visit.patient.name}${standing(visit, done)}`)),
      el("p", { class: "finding-source" }, `${name}: ${why}`.slice(0, MOST_SHOWN)),
    ],
    main: begun
      ? { says: `Finish ${bedOf(begun.visit)}`, look: "quiet", act: () => desk.goTo(begun.visit.id) }
      : { says: "Ask for the round again", look: "quiet", act: () => desk.refresh() },
    row: [
      { says: "To the lab", act: () => desk.openPage("to_lab") },
      { says: "This tablet", act: () => desk.openPage("this_tablet") },
    ],
  };
}

const DO_NEXT =
  "Do not begin a visit with this tablet: take another one, or write on paper by your site’s procedure." +
  " Tell whoever keeps the house. What is saved here is safe and is still sent.";

const MOST_SHOWN = 300;

const standing = (visit, done) => (done.ended || visit.ended ? ", done" : done.arrived ? ", begun" : "");
