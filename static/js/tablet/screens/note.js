// The note of something that went wrong: what was done, what happened, who was told, how bad. It can be finished later,
// and stays open until it is complete as the judge takes it.

import { tiles } from "../parts/choices.js";
import { el } from "../parts/dom.js";
import { textField } from "../parts/fields.js";
import { isExposure, sharpsFields, sharpsLines } from "../parts/sharps.js";
import { toldData, toldFields } from "../parts/told.js";
import { clockTime } from "../parts/when.js";
import { peopleToTell } from "./common.js";
import { isComplete } from "../judge.js";
import { INCIDENT, SEVERITIES } from "../words.js";

const topOf = (desk) => desk.place.over.at(-1) ?? {};

export function note(v, desk, entries) {
  const incident = v.done.incidents.find((each) => each.event.id === entries.opened);
  const page = { ...written(incident), ...entries };
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
      isExposure(kind)
        ? sharpsFields(page.sharps ?? {}, (changes, redraw) =>
            desk.setPage({ sharps: { ...topOf(desk).sharps, ...changes } }, redraw),
          )
        : null,
      toldFields(
        page.told ?? {},
        (changes, redraw) => desk.setPage({ told: { ...page.told, ...topOf(desk).told, ...changes } }, redraw),
        { people: peopleToTell(desk) },
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
      hint: missing(page).length ? `still missing: ${missing(page).join(", ")}. It stays open` : null,
      look: isComplete({ data: dataOf(v, page, incident, kind) }) ? "act" : "quiet",
      act: () => save(v, desk, incident, kind),
    },
    row: [{ says: "Finish it later", act: () => desk.leaveNote() }],
  };
}

/** What an earlier note about it says: it is gone on with, not begun again. */
function written(incident) {
  const data = incident?.note?.data;
  return data ? { steps: data.steps, text: data.note, told: data.told, severity: data.severity } : {};
}

function missing(page) {
  return [
    page.steps?.length ? null : "what was done",
    page.text?.trim() ? null : "what happened",
    page.told?.name?.trim() ? null : "who was told",
  ].filter(Boolean);
}

function dataOf(v, page, incident, kind) {
  const told = page.told?.at ? page.told : toldData(page.told, v.now.at);
  return {
    opened: isAlone(incident) ? null : incident.event.id,
    kind,
    at: incident?.note?.data.at ?? incident?.event.at ?? v.now.at,
    steps: page.steps ?? [],
    severity: page.severity ?? "unknown",
    note: [(page.text ?? "").trim(), ...sharpsLines(page.sharps)].filter(Boolean).join("\n"),
    ...(told ? { told } : {}),
  };
}

const isAlone = (incident) => !incident || incident.event.id === incident.note?.id;

// A note that stands alone is put right in its place; one about something opened is written anew, and the last counts.
async function save(v, desk, incident, kind) {
  const data = dataOf(v, { ...written(incident), ...topOf(desk) }, incident, kind);
  const act =
    incident && isAlone(incident)
      ? { kind: "corrected", data: { event: incident.event.id, data, reason: "note completed" } }
      : { kind: "incident_noted", data };
  if (await desk.save([act])) desk.leaveNote(true);
}
