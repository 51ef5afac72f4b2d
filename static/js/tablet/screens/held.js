// The gate has something to say before an act: a stop with the way out, or a question.
// "It happened all the same" records the truth, with a reason; there is none of it where identity is not settled.

import { el } from "../parts/dom.js";
import { tiles } from "../parts/choices.js";
import { textField } from "../parts/fields.js";
import { mayGoAhead } from "../gate.js";
import { REASONS } from "../words.js";
import { notDrawn, wrong } from "./common.js";

export function held(v, desk, page) {
  const covered = [...page.stops, ...page.asks];
  const findings = onceSaid(page.stops.length ? page.stops : page.asks);
  const stops = page.stops.length > 0 || page.notChecked;
  const first = findings[0] ?? NOT_CHECKED;
  const way = wayOut(desk, findings);
  if ((page.reasoning ?? (page.faced && !way)) && mayBeRecorded(page, covered)) return reason(v, desk, page);
  const back = {
    says: stops ? "Back, not done" : "Back, do that first",
    act: () => desk.closePage(),
  };
  return {
    name: "held",
    tone: stops ? "stop" : null,
    sentence: first.says,
    body: [
      el("p", { class: "do-next" }, first.do_next),
      ...findings
        .slice(1)
        .map((finding) => el("p", { class: "aside" }, `${finding.says} ${finding.do_next}`)),
      el("p", { class: "finding-source" }, first.source ?? ""),
    ],
    main: way ?? back,
    row: [
      ...(way ? [back] : []),
      ...(mayBeRecorded(page, covered)
        ? [
            {
              says: stops ? "It happened all the same" : "Go on all the same",
              act: () => desk.setPage({ reasoning: true }),
            },
          ]
        : []),
      wrong(desk),
    ],
  };
}

// Several tubes may be meant by the same words.
const onceSaid = (findings) => [...new Map(findings.map((finding) => [finding.says, finding])).values()];

// A note that is missing is written from here.
function wayOut(desk, findings) {
  const about = findings.find(({ code }) => code.startsWith("incident-note-"))?.event;
  const opened = desk.view().done.incidents.find((each) => about && [each.event.id, each.note?.id].includes(about));
  if (!opened) return null;
  const write = () => {
    desk.closePage();
    desk.openPage("note", { opened: opened.event.id });
  };
  return { says: "Write the note now", act: write };
}

const isEnd = (act) => act.kind === "visit_ended";

/** The rules themselves failed before any needle: nothing is drawn by this app then. */
export function notChecked(v, desk) {
  return {
    name: "not_checked",
    tone: "stop",
    sentence: NOT_CHECKED.says,
    body: [el("p", { class: "do-next" }, NOT_CHECKED.do_next)],
    main: { says: "Back to the round", act: () => desk.leaveVisit() },
    row: [notDrawn(desk), wrong(desk)],
  };
}

// A needle or a label is never gone ahead with unchecked: who this is would be unchecked too.
function mayBeRecorded(page, covered) {
  const unchecked =
    page.notChecked && page.acts.some((act) => ["needle_in", "label_printed"].includes(act.kind));
  return page.acts.length > 0 && mayGoAhead(covered) && !unchecked;
}

const NOT_CHECKED = {
  says: "The rules could not be checked.",
  do_next:
    "Nothing was found because nothing could be asked. Follow your site’s paper procedure," +
    " and tell whoever keeps the house.",
  source: "",
};

function reason(v, desk, page) {
  return {
    name: "held",
    sentence: "Why, in a word?",
    aside: "The charge nurse and the safety officer read it.",
    body: [
      tiles(
        [...tookOver(v), ...REASONS].map((says) => ({ says, act: () => goAhead(desk, page, says) })),
        { label: "Reason" },
      ),
      textField({
        label: "Or in your own words",
        value: page.why ?? "",
        onInput: (why) => desk.setPage({ why }, false),
      }),
    ],
    main: { says: "Record it with these words", look: "quiet", act: () => ownWords(desk, page) },
    row: [{ says: "Back", act: () => desk.setPage({ reasoning: false }) }, wrong(desk)],
  };
}

const tookOver = ({ draft: { takesOver } }) =>
  takesOver ? [`${takesOver.name}, ${takesOver.role}, took over`] : [];

function ownWords(desk, page) {
  const why = (desk.place.over.at(-1)?.why ?? "").trim();
  if (why) goAhead(desk, page, why);
}

// At the time of the tap, not of the reason: the act was then.
async function goAhead(desk, page, why) {
  const acts = page.acts.map((act) => ({ ...act, id: act.id ?? desk.newId() }));
  const covered = [...page.stops, ...page.asks].map((finding) => ({
    kind: "went_ahead",
    data: { finding: finding.code, event: acts[finding.act]?.id ?? finding.event, reason: why },
  }));
  desk.closePage(page.acts.some(isEnd));
  await desk.save([...acts, ...covered], { tap: page.tap, then: page.then });
}
