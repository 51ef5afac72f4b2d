// What to do now: big numbered steps from the rulebook. The draw's own taps stand beside them, and the clocks run on.

import { el } from "../parts/dom.js";
import { stepList } from "../parts/steps.js";
import { cameRound } from "./unfinished.js";

export function firstAid(v, desk, page) {
  const incident = v.done.incidents.find((each) => each.event.id === page.opened);
  const kind = incident?.kind ?? page.kind ?? "other";
  const aid = v.book.first_aid?.[kind] ?? v.book.first_aid.other;
  const ticked = page.ticked ?? [];
  const on = Object.keys(v.done.tourniquet)[0];
  return {
    name: "first_aid",
    tone: "alarm",
    sentence: aid.title,
    body: [
      stepList(aid.steps, ticked, (step) =>
        desk.setPage({
          ticked: ticked.includes(step) ? ticked.filter((each) => each !== step) : [...ticked, step],
        }),
      ),
      el("p", { class: "finding-source" }, aid.source),
    ],
    main:
      on || v.done.needleIn
        ? {
            says: [on ? "Tourniquet off" : null, v.done.needleIn ? "needle out, pressing" : null]
              .filter(Boolean)
              .join(", ")
              .replace(/^n/, "N"),
            look: "act",
            act: () => desk.act(release(v, on)),
          }
        : {
            says: "Safe now: write it down",
            act: () => desk.openPage("note", { opened: page.opened, steps: ticked }),
          },
    row: [
      { says: "Write it later", act: () => desk.closePage() },
      ...(kind === "faint" && !v.draft.cameRound ? [cameRound(desk)] : []),
      { says: "Something else is wrong", look: "stop", act: () => desk.openPage("wrong") },
    ],
  };
}

function release(v, on) {
  const off = on ? [{ kind: "tourniquet_off", data: { side: on } }] : [];
  return v.done.needleIn
    ? [...off, { kind: "needle_out" }, { kind: "pressure_on" }]
    : off;
}
