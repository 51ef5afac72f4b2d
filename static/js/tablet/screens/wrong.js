// Something is wrong: what it is, in one touch. The clocks go on; writing comes later.

import { el } from "../parts/dom.js";
import { tiles } from "../parts/choices.js";
import { INCIDENT, WRONG } from "../words.js";

export function wrongScreen(v, desk) {
  return {
    name: "wrong",
    sentence: "What is wrong?",
    aside: "One touch shows what to do now.",
    body: WRONG.map(([group, kinds]) =>
      el(
        "section",
        { class: "wrong-group" },
        el("h2", { class: "group-name" }, group),
        tiles(
          kinds.map((kind) => ({ says: INCIDENT[kind], act: () => open(desk, kind) })),
          { label: group },
        ),
      ),
    ),
    main: { says: "Back: nothing is wrong", look: "quiet", act: () => desk.closePage() },
    row: [
      { says: "Not drawn", act: () => desk.openPage("not_drawn") },
      { says: "What was recorded", act: () => desk.openPage("story") },
    ],
  };
}

// Written down as it is touched: the moment counts, the words come later.
async function open(desk, kind) {
  const opened = { kind: "incident_opened", data: { kind }, id: desk.newId() };
  desk.closePage();
  desk.openPage("first_aid", { opened: opened.id, kind });
  await desk.save([opened]);
}
