// Every screen's frame: head bar, clocks, one sentence, the body, the line of what was saved last,
// one main action under the thumb, and at most three others, "Something is wrong" right-hand.

import { el, fill } from "./dom.js";
import { live } from "./live.js";

/**
 * @typedef {object} Screen what a screen hands over to be framed
 * @property {string} name
 * @property {string} sentence what to do next
 * @property {string} [aside] one quieter line
 * @property {*} [body] nodes
 * @property {{says, hint?, act, look?: "act"|"panel"|"quiet"|"stop"|"calm", off?: boolean}|null} [main]
 * @property {{says, act, look?: "plain"|"act"|"stop"}[]} [row] at most two, the frame adds "Something is wrong"
 * @property {"stop"|"alarm"|null} [tone] colours the whole screen
 */

export function frame(screen) {
  if ((screen.row ?? []).length > 3)
    throw new RangeError(`The screen ${screen.name} has more than three actions beside the main one.`);
  return el(
    "div",
    {
      class: "frame",
      data: { screen: screen.name, tone: screen.tone ?? "plain", main: screen.main?.look ?? "act" },
    },
    el(
      "main",
      { class: "body" },
      el(
        "h1",
        { class: "sentence", tabindex: "-1", data: { length: lengthOf(screen.sentence) } },
        screen.sentence,
      ),
      screen.aside ? el("p", { class: "aside" }, screen.aside) : null,
      el("div", { class: "matter" }, screen.body),
    ),
    el("div", { class: "acts" }, mainAction(screen.main), rowOf(screen.row ?? [])),
  );
}

function lengthOf(sentence) {
  const letters = String(sentence).length;
  return letters > 90 ? "long" : letters > 44 ? "middle" : "short";
}

function mainAction(main) {
  if (!main) return null;
  return el(
    "button",
    {
      class: "main",
      type: "button",
      disabled: main.off,
      data: { look: main.look ?? "act", rank: "main" },
      onclick: main.act,
    },
    el("span", { class: "main-says" }, main.says),
    main.hint ? el("span", { class: "main-hint" }, main.hint) : null,
  );
}

function rowOf(row) {
  if (row.length === 0) return null;
  return el(
    "div",
    { class: "row", data: { count: row.length } },
    row.map((action) =>
      el(
        "button",
        {
          class: "beside",
          type: "button",
          disabled: action.off,
          data: { look: action.look ?? "plain", rank: "row" },
          onclick: action.act,
        },
        action.says,
      ),
    ),
  );
}

/**
 * The head bar. Left: back to the round, and where we are, which opens the story. Then a tube that is wanted soon, and the
 * notes not complete yet, which leads to them. Right: how fresh, and who; opens "this tablet".
 */
export function headBar({ where, name, right, lab = null, notes = 0, onWhere, onRight, onRound = null, onNotes = null }) {
  return el(
    "header",
    { class: "head" },
    onRound
      ? el("button", { class: "head-round", type: "button", onclick: onRound, data: { rank: "other" } }, "Round")
      : null,
    el(
      onWhere ? "button" : "p",
      {
        class: "head-where",
        type: onWhere ? "button" : null,
        onclick: onWhere,
        data: onWhere ? { rank: "other" } : {},
      },
      el("span", {}, where),
      name ? el("b", { class: "head-name" }, name) : null,
    ),
    lab ? labPart(lab) : null,
    notes
      ? el(
          "button",
          { class: "head-notes", type: "button", onclick: onNotes, data: { rank: "other" } },
          notes === 1 ? "1 note open" : `${notes} notes open`,
        )
      : null,
    el(
      "button",
      { class: "head-state", type: "button", onclick: onRight, data: { rank: "other" } },
      right.map((part) => headPart(part)),
    ),
  );
}

/** A tube that is wanted soon: {says, look, live: moment → {says, look}, act: null while hands are full}. */
function labPart({ says, look, live: tell, act }) {
  const node = el(
    act ? "button" : "p",
    { class: "head-lab", type: act ? "button" : null, onclick: act, data: act ? { look, rank: "other" } : { look } },
    says,
  );
  return live(node, tell);
}

function headPart(part) {
  return el("span", { class: "head-part", data: { look: part.look ?? "plain" } }, part.says);
}

/** The line that says what was saved last, with ten seconds of undo. */
export function receiptLine() {
  const words = el("p", { class: "receipt-words", role: "status" });
  const undo = el(
    "button",
    { class: "receipt-undo", type: "button", hidden: true, data: { rank: "other" } },
    "Undo",
  );
  const node = el("div", { class: "receipt" }, words, undo);
  node.show = ({ says, onUndo }) => {
    if (words.textContent !== says) words.textContent = says;
    undo.hidden = !onUndo;
    undo.onclick = onUndo ?? null;
  };
  return node;
}

/** Puts a framed screen together with head, clocks and receipt into the page. */
export function stage(root, { head, clocks, screen, receipt }) {
  const framed = frame(screen);
  const body = framed.querySelector(".body");
  framed.prepend(head);
  if (clocks) framed.insertBefore(clocks, body);
  body.after(receipt);
  fill(root, framed);
  return framed;
}
