// The note of something that went wrong: what was done, what happened, who was told, how bad. It can be finished later.

import { tiles } from "../parts/choices.js";
import { el } from "../parts/dom.js";
import { textField } from "../parts/fields.js";
import { toldData, toldFields } from "../parts/told.js";
import { clockTime } from "../parts/when.js";
import { INCIDENT, SEVERITIES } from "../words.js";

const topOf = (desk) => desk.place.over.at(-1) ?? {};

export function note(v, desk, page) {
  const incident = v.done.incidents.find((each) => each.event.id === page.opened);
  const kind = incident?.kind ?? "other";
  const aid = v.book.first_aid?.[kind];
  const steps = page.steps ?? [];
  const tick = (step) =>
    desk.setPage({ steps: steps.includes(step) ? steps.filter((each) => each !== step) : [...steps, step] });
  return {
    name: "note",
    sentence: `${INCIDENT[kind] ?? kind}, ${clockTime(incident?.event.at, v.zone)}: the note`,
    body: [
      el("h2", { class: "group-name" }, "What was done"),
      tiles(
        (aid?.steps ?? []).map((step) => ({
          says: step,
          chosen: steps.includes(step),
          act: () => tick(step),
        })),
        { wide: true, label: "What was done" },
      ),
      textField({
        label: "What happened",
        value: page.text ?? "",
        many: true,
        onInput: (text) => desk.setPage({ text }, false),
      }),
      toldFields(page.told ?? {}, (changes, redraw) =>
        desk.setPage({ told: { ...topOf(desk).told, ...changes } }, redraw),
      ),
      el("h2", { class: "group-name" }, "How bad"),
      tiles(
        SEVERITIES.map(([code, says]) => ({
          says,
          chosen: page.severity === code,
          act: () => desk.setPage({ severity: code }),
        })),
        { label: "How bad" },
      ),
    ],
    main: {
      says: "Save this note",
      hint: missing(page).length ? `still missing: ${missing(page).join(", ")}` : null,
      look: missing(page).length ? "quiet" : "act",
      act: () => save(v, desk, incident, kind),
    },
    row: [{ says: "Finish it later", act: () => desk.closePage() }],
  };
}

function missing(page) {
  return [
    page.steps?.length ? null : "what was done",
    page.text?.trim() ? null : "what happened",
    page.told?.name?.trim() ? null : "who was told",
  ].filter(Boolean);
}

async function save(v, desk, incident, kind) {
  const page = topOf(desk);
  const told = toldData(page.told, desk.moment().at);
  const data = {
    opened: incident?.event.id ?? null,
    kind,
    at: incident?.event.at ?? v.now.at,
    steps: page.steps ?? [],
    severity: page.severity ?? "unknown",
    note: (page.text ?? "").trim(),
    ...(told ? { told } : {}),
  };
  if (await desk.save([{ kind: "incident_noted", data }])) desk.closePage(true);
}
