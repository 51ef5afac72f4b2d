// Before leaving: what is unfinished, each with the way to it; then the visit is ended.

import { el } from "../parts/dom.js";
import { rackOf } from "./tube_states.js";
import { tiles } from "../parts/choices.js";
import { INCIDENT } from "../words.js";
import { count, countOf, wrong } from "./common.js";

export function leave(v, desk) {
  const outcome = v.done.open.length ? "partly" : "collected";
  const ahead = desk.ahead([{ kind: "visit_ended", data: { outcome } }]);
  const still = [
    ...ahead.stops,
    ...(v.verdict?.findings.filter((finding) => finding.severity === "stop") ?? []),
  ];
  const notes = v.done.unwritten.map((incident) => ({
    says: `Write the note: ${INCIDENT[incident.kind]}`,
    hint: incident.note ? "begun, not complete" : "opened, not written down yet",
    look: "stop",
    act: () => desk.openPage("note", { opened: incident.event.id }),
  }));
  const others = unique(still).filter((finding) => !finding.code.startsWith("incident-note-"));
  const watch = v.owed.filter(({ code }) => code === "watch").map(() => ({
    says: "Stay: the patient fainted",
    hint: "or somebody who is named stays",
    look: "stop",
    act: () => desk.leaveVisit(),
  }));
  const clear = notes.length + watch.length + others.length === 0;
  return {
    name: "leave",
    sentence: clear ? "Nothing is unfinished" : `${count(notes.length + watch.length + others.length, "thing")} unfinished`,
    aside: clear ? "Bell within reach, bed rail as it was, tablet wiped, hands clean." : null,
    body: [
      tiles(
        [
          ...watch,
          ...notes,
          ...others.map((finding) => ({
            says: finding.says,
            hint: finding.do_next,
            look: "stop",
            act: () => mend(desk, finding),
          })),
        ],
        { wide: true, label: "Unfinished" },
      ),
      quiet(v),
      rackOf(v),
    ],
    main: {
      says: "Leave the bedside",
      hint:
        outcome === "partly" ? `partly drawn: ${countOf(v.done.open)} empty` : allWords(v),
      look: clear ? "act" : "quiet",
      act: () => end(v, desk, outcome),
    },
    row: [{ says: "What was recorded", act: () => desk.openPage("story") }, wrong(desk)],
  };
}

// An order without a tube, over a limit or unknown to the directory, stays open on the ward: that is not "all".
function allWords({ visit, done }) {
  const drawn = new Set(done.tubes.flatMap((tube) => tube.tests ?? []));
  const left = (visit.orders ?? []).filter(({ test }) => !drawn.has(test));
  return left.length ? `every tube is filled; not drawn, no tube: ${left.map(({ name }) => name).join(", ")}` : "all collected";
}

const MEND = { "bleeding-not-checked": "site", "still-bleeding": "site", "pressure-short": "site" };

function mend(desk, finding) {
  return MEND[finding.code] ? desk.openPage(MEND[finding.code]) : desk.openPage("story");
}

function unique(findings) {
  return [
    ...new Map(findings.map((finding) => [`${finding.code} ${finding.event ?? ""}`, finding])).values(),
  ];
}

function quiet(v) {
  const asks = (v.verdict?.findings ?? []).filter((finding) => finding.severity === "ask");
  return asks.length
    ? el(
        "ul",
        { class: "lines", data: { look: "quiet" } },
        asks.map((finding) => el("li", {}, `${finding.says} ${finding.do_next}`)),
      )
    : null;
}

async function end(v, desk, outcome) {
  if (outcome === "partly") return desk.openPage("not_drawn", { outcome: "partly" });
  await desk.act([{ kind: "visit_ended", data: { outcome } }]);
  return null;
}
