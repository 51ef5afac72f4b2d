// How much blood this visit takes: planned, allowed, drawn before; what waits and who may let it go ahead; what sharing
// containers saves. Every sentence of a rule is the packet's own.

import { ml, mlAtMost } from "../child.js";
import { waitingTubes } from "../blood.js";
import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";
import { numbered, wrong } from "./common.js";

export function blood(v, desk) {
  const { volume = {} } = v.visit;
  const { allowed } = v;
  return {
    name: "blood",
    sentence: allowed ? `At most ${mlAtMost(allowed.ml)} now` : `${ml(plannedMl(v))} planned`,
    aside: allowed ? bindsWords(allowed) : "No limit is set for this patient; what was drawn counts all the same.",
    body: [
      lines(waitWords(v), "stop"),
      limits(v),
      lines([hereWords(desk, v), drawnWords(volume, allowed), ...(volume.adjusted_citrate ?? [])], "act"),
      lines(savingLines(volume), "quiet"),
      volume.reckoned ? el("p", { class: "finding-source" }, reckonedWords(volume)) : null,
    ],
    main: { says: "Back", look: "quiet", act: () => desk.closePage() },
    row: [wrong(desk)],
  };
}

const reckonedWords = ({ blood_ml: whole, reckoned }) => `Blood volume ${ml(Math.round(whole))}: ${reckoned}`;

/** mL of the tubes still to fill, and of those that are. */
export const plannedMl = ({ done }) =>
  done.tubes
    .filter((tube) => !tube.discarded || tube.filled)
    .reduce((sum, tube) => sum + (tube.volume ?? tube.draw_ml ?? tube.nominal_ml ?? 0), 0);

const bindsWords = ({ binds, allowed }) =>
  allowed ? `Up to ${ml(allowed.ml)} was allowed by ${allowed.by}: ${allowed.reason}.` : `What binds is the limit of ${binds}.`;

/** What waits, by the house's word and by what this tablet drew since: sentences. */
export function waitWords(v) {
  const { volume = {}, orders = [] } = v.visit;
  const said = (volume.says ?? []).filter((each) => !(volume.saving_says ?? []).includes(each) && !each.startsWith(DRAWN));
  const more = tooMuch(v);
  const names = more.map((tube) => `${numbered(tube)} (${(tube.names ?? []).join(", ")})`);
  const whoMay = volume.may_allow ? `only ${volume.may_allow} may let it go ahead` : "ask the ward";
  return [
    ...said,
    more.length ? `Does not fit any more: ${names.join("; ")}. It waits, or ${whoMay}.` : null,
    ...lacking(orders),
  ].filter(Boolean);
}

/** The tubes that do not fit any more, by what may be drawn now and what was. */
const tooMuch = (v) =>
  v.allowed ? waitingTubes(v.visit, v.done.open, v.allowed.ml - (v.verdict?.volume_ml ?? 0)) : [];

// Told here as a table and with what this tablet drew itself.
const DRAWN = "Drawn before:";

/** Orders whose test the laboratory's directory does not have: shown, not dropped. */
const lacking = (orders) =>
  orders
    .filter((order) => order.in_directory === false)
    .map((order) => `${order.name}: not in the laboratory's directory, so no tube is planned for it.`);

function limits({ allowed }) {
  if (!allowed?.rows.length) return null;
  const cell = (words, head = false) => el(head ? "th" : "td", head ? { scope: "row" } : {}, words);
  return el(
    "table",
    { class: "limits" },
    el("thead", {}, el("tr", {}, ["in", "limit", "drawn before", "left"].map((word) => el("th", { scope: "col" }, word)))),
    el(
      "tbody",
      {},
      allowed.rows.map((row) =>
        el(
          "tr",
          { data: { binds: row.what === allowed.binds ? "yes" : "no" } },
          cell(row.what, true),
          cell(mlAtMost(row.limit)),
          cell(row.what === "one draw" ? "" : ml(row.drawn)),
          cell(mlAtMost(row.left)),
        ),
      ),
    ),
  );
}

function hereWords(desk, v) {
  const here = v.allowed?.hereMl ?? desk.drawnHere(v.visit);
  return here ? `${ml(here)} of it drawn on this tablet at another visit, which the house has not counted yet.` : null;
}

// With a limit the table says it.
function drawnWords({ drawn_24h_ml: day = 0, drawn_8_weeks_ml: weeks = 0 }, allowed) {
  return allowed || !weeks ? null : `Drawn before: ${ml(day)} in 24 hours, ${ml(weeks)} in 8 weeks.`;
}

const savingLines = ({ saving_says: says = [] }) => says;

/** The one quiet line at the door. */
export function bloodLine(v) {
  const { volume = {} } = v.visit;
  const { allowed } = v;
  const most = allowed ? `, at most ${mlAtMost(allowed.ml)} now` : " of blood";
  const asides = [bindsShort(allowed), drawnBefore(v), noWeight(volume, allowed), savedShort(volume.saving)];
  return {
    says: `${ml(plannedMl(v))}${most}`,
    aside: asides.filter(Boolean).join(" · "),
    look: tooMuch(v).length ? "stop" : allowed ? "act" : "plain",
  };
}

function drawnBefore(v) {
  const day = (v.visit.volume?.drawn_24h_ml ?? v.patient.drawn_24h_ml ?? 0) + (v.allowed?.hereMl ?? 0);
  return day ? `${ml(day)} drawn before, in 24 h` : null;
}

const bindsShort = (allowed) => (allowed?.rows.length && !allowed.allowed ? `limit of ${allowed.binds}` : null);

// For a grown-up a note, no more: how much blood there is cannot be reckoned.
const noWeight = (volume, allowed) => (volume.blood_ml === null && !allowed ? "no weight known" : null);

const savedShort = (saving) =>
  saving?.saving_ml > 0 ? `saves ${ml(saving.saving_ml)} against one container for each test` : null;
