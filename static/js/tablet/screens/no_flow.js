// No blood flows: what to do with the hands first, then one tap for all of it.

import { stepList } from "../parts/steps.js";
import { countOf, wrong } from "./common.js";

const STEPS = [
  "Pull back or push a little, once. No probing, no side to side.",
  "Another tube: it may have lost its vacuum.",
  "Still nothing: tourniquet off, needle out, guard on, press.",
];

export function noFlow(v, desk) {
  const on = Object.keys(v.done.tourniquet);
  const acts = (guarded) => [
    ...on.map((side) => ({ kind: "tourniquet_off", data: { side } })),
    { kind: "needle_out", data: { guard_on: guarded } },
    { kind: "pressure_on" },
    { kind: "attempt_ended", data: { outcome: "no_flow" } },
  ];
  return {
    name: "no_flow",
    sentence: "No blood flows",
    aside: v.done.kept.length ? `${countOf(v.done.kept)} filled so far: kept, and labelled afterwards.` : null,
    body: [stepList(STEPS, [], () => {})],
    main: {
      says: "All off and out, pressing",
      hint: "tourniquet off, needle out and guarded",
      look: "panel",
      act: () => desk.act(acts(true), { noFlow: false }),
    },
    row: [
      { says: "Blood flows now", act: () => desk.setDraft({ noFlow: false }) },
      ...(on.length
        ? [
            {
              says: "Tourniquet off",
              look: v.over.ready ? "act" : "plain",
              act: () => desk.act([{ kind: "tourniquet_off", data: { side: on[0] } }]),
            },
          ]
        : [
            {
              says: "Out, but the guard did not click",
              act: () => desk.act(acts(false), { noFlow: false }),
            },
          ]),
      wrong(desk),
    ],
  };
}
