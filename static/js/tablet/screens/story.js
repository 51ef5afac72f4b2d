// What was recorded at this bedside, in order; each line can be taken back as "did not happen".

import { el } from "../parts/dom.js";
import { clockTime } from "../parts/when.js";
import { savedWords } from "../words.js";
import { numbered, wrong } from "./common.js";

export function story(v, desk) {
  const events = (desk.events.get(v.visit.id) ?? []).filter((event) => event.kind !== "corrected");
  const called = new Map(v.done.tubes.map((tube) => [tube.id, numbered(tube)]));
  const struck = strikes(desk.events.get(v.visit.id) ?? []);
  return {
    name: "story",
    sentence: "What was recorded",
    aside: "Nothing is erased: a line taken back stays, struck through.",
    body: [
      el("ol", { class: "story" }, events.map((event) => line(v, desk, event, called, struck)).reverse()),
    ],
    main: { says: "Back", look: "quiet", act: () => desk.closePage() },
    row: [
      { says: "To the round", act: () => desk.leaveVisit() },
      { says: "Not drawn", act: () => desk.openPage("not_drawn") },
      wrong(desk),
    ],
  };
}

function strikes(events) {
  const latest = new Map(
    events.filter((event) => event.kind === "corrected").map((event) => [event.data.event, event]),
  );
  return new Set([...latest].filter(([, event]) => event.data.data === null).map(([id]) => id));
}

function line(v, desk, event, called, struck) {
  const gone = struck.has(event.id);
  return el(
    "li",
    { class: "story-line", data: { struck: gone ? "yes" : "no" } },
    el("time", {}, clockTime(event.at, v.zone)),
    el(
      "span",
      {},
      savedWords(event, called.get(event.data?.tube)),
      event.data?.after ? ", put in afterwards" : "",
    ),
    gone
      ? el("b", {}, "taken back")
      : el(
          "button",
          {
            class: "small",
            type: "button",
            data: { rank: "other" },
            onclick: () =>
              desk.save([
                { kind: "corrected", data: { event: event.id, data: null, reason: "did not happen" } },
              ]),
          },
          "did not happen",
        ),
  );
}
