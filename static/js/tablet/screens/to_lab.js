// What is bagged, and by when the lab needs it.

import { el } from "../parts/dom.js";
import { clockTime, minutesBetween } from "../parts/when.js";

export function toLab(desk) {
  const now = desk.moment().at;
  const bagged = desk
    .stops()
    .flatMap(({ visit, done }) => done.kept.filter((tube) => tube.bagged).map((tube) => ({ visit, tube })));
  const urgent = bagged
    .filter(({ tube }) => tube.in_lab_by)
    .sort((a, b) => Date.parse(a.tube.in_lab_by) - Date.parse(b.tube.in_lab_by));
  const first = urgent[0] && minutesBetween(now, urgent[0].tube.in_lab_by);
  return {
    name: "to_lab",
    sentence:
      bagged.length === 0
        ? "Nothing bagged yet"
        : urgent.length
          ? first < 0
            ? "Late for the lab"
            : `In the lab within ${first} min`
          : "Nothing is urgent",
    body: [
      el(
        "ul",
        { class: "lines" },
        [...urgent, ...bagged.filter(({ tube }) => !tube.in_lab_by)].map((each) =>
          el("li", {}, line(desk, each)),
        ),
      ),
    ],
    main: { says: "Back to the round", act: () => desk.closePage() },
    row: [],
  };
}

function line(desk, { visit, tube }) {
  const book = desk.packetInUse().book;
  const by = tube.in_lab_by ? `, by ${clockTime(tube.in_lab_by, desk.packet.zone)}` : "";
  const container = book.containers[tube.kind]?.name ?? tube.kind;
  return `Room ${visit.room} bed ${visit.bed}, ${visit.patient.name}: ${container}${by}`;
}
