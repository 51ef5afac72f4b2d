// The locked tablet: nobody's name but the staff's. Clocks run on, and what must not wait for a PIN does not.

import { el } from "../parts/dom.js";
import { lines, tiles } from "../parts/choices.js";
import { digitsField } from "../parts/digits_field.js";
import { stepList } from "../parts/steps.js";
import { INCIDENT, WRONG } from "../words.js";
import { choosePin, signIn } from "./choose_pin.js";

export function locked(lock) {
  const { status, state } = lock;
  if (state.page === "wrong") return whatIsWrong(lock);
  if (state.page === "aid") return firstAid(lock);
  if (status.revoked && !status.people.length) return outOfUse(lock);
  const newcomer = state.page === "forgot" ? status.person : lock.newcomer;
  if (newcomer && !state.person) return status.freshSignIn ? choosePin(lock, newcomer) : signInFirst(lock);
  return status.people.length ? unlock(lock) : signInFirst(lock);
}

function unlock(lock) {
  const { status, state, person } = lock;
  const go = (pin) => lock.unlock(pin);
  const field = digitsField({
    label: "PIN",
    secret: true,
    autocomplete: "current-password",
    most: 12,
    value: lock.typed,
    onType: (digits) => lock.type(digits),
    onEnter: go,
  });
  return {
    name: "unlock",
    sentence: person ? `${person.name}: your PIN` : "Who are you?",
    aside: lock.receipt || `Locked.${status.unsent ? ` ${status.unsent} unsent; they are sent by themselves.` : ""}`,
    body: [
      lines([state.says, ...warnings(status)], "stop"),
      status.people.length > 1
        ? tiles(
            status.people.map((each) => ({
              says: each.name,
              chosen: each.id === person?.id,
              act: () => lock.set({ person: each.id, says: "" }),
            })),
            { label: "Who are you?" },
          )
        : null,
      field.node,
      el(
        "div",
        { class: "tiles" },
        tile("Somebody else", () => signIn(lock)),
        tile("I forgot my PIN", () => (canChooseAnew(lock) ? lock.set({ page: "forgot", person: null }) : signIn(lock))),
      ),
    ],
    main: { says: state.isBusy ? "Unlocking" : "Unlock", off: state.isBusy, act: () => go(field.digits()) },
    row: handsFull(lock),
  };
}

// Whoever has just shown their password may choose a new PIN; a sign-in of an hour ago may be somebody else's by now.
const canChooseAnew = ({ status, person }) => Boolean(status.freshSignIn && status.person && status.person.id === person?.id);

const tile = (says, act) =>
  el("button", { class: "tile", type: "button", onclick: act, data: { rank: "row" } }, el("b", {}, says));

function warnings(status) {
  return [
    status.clockSetBack ? "The clock of this tablet was set back. It stays as it is; tell whoever keeps the house." : null,
    status.trouble ? `${status.trouble.says} ${status.trouble.do_next}` : null,
    status.lost ? `This tablet had saved ${status.lost.seq} events and has lost them. Tell whoever keeps the house.` : null,
  ];
}

function signInFirst(lock) {
  const { status } = lock;
  return {
    name: "sign_in_first",
    sentence: "Sign in to take your round",
    aside: lock.receipt || `0 patients on this tablet, ${status.unsent} unsent`,
    body: [lines([lock.state.says, ...warnings(status)], "stop"), lines((status.handedBack ?? []).map(becameOf), "plain")],
    main: { says: lock.state.isBusy ? "Asking the house" : "Sign in", off: lock.state.isBusy, act: () => signIn(lock) },
    row: handsFull(lock),
  };
}

// What became of a round when the tablet was handed back, in the house's words.
const becameOf = ({ name, closed, hangs_on: why }) =>
  closed
    ? `${name}: the round is closed. What was not begun waits for the next round.`
    : `${name}: the round stays out, because ${why.join("; ")}. Whoever keeps the house can close it.`;

function outOfUse(lock) {
  return {
    name: "out_of_use",
    tone: "stop",
    sentence: "This tablet was taken out of use",
    aside: `0 patients on it. ${lock.status.unsent} unsent; they are sent, and a person at the house looks at them.`,
    body: lines(["Take another tablet, and bring this one to whoever keeps the house."]),
    main: null,
    row: handsFull(lock),
  };
}

// "Off", "out" and "something is wrong": always there, without a name.
function handsFull(lock) {
  const { running } = lock;
  return [
    running?.sides.length ? { says: "Tourniquet off", look: "act", act: () => lock.tourniquetOff() } : null,
    running?.needleIn ? { says: "Needle out", look: "act", act: () => lock.needleOut() } : null,
    { says: "Something is wrong", look: "stop", act: () => lock.set({ page: "wrong" }) },
  ].filter(Boolean);
}

function whatIsWrong(lock) {
  return {
    name: "locked_wrong",
    sentence: "What is wrong?",
    aside: "One touch shows what to do now. No PIN is needed.",
    body: WRONG.map(([group, kinds]) =>
      el(
        "section",
        { class: "wrong-group" },
        el("h2", { class: "group-name" }, group),
        tiles(
          kinds.map((kind) => ({ says: INCIDENT[kind], act: () => lock.wrong(kind) })),
          { label: group },
        ),
      ),
    ),
    main: { says: "Back", look: "quiet", act: () => lock.set({ page: null }) },
    row: [],
  };
}

function firstAid(lock) {
  const { running, state } = lock;
  const aid = running?.aid?.[state.kind] ?? running?.aid?.other ?? null;
  return {
    name: "locked_aid",
    tone: "alarm",
    sentence: aid?.title ?? "Call for help now",
    aside: running?.visit ? lock.receipt : "Nothing is open here: unlock to write it down, or write it on paper.",
    body: aid ? [stepList(aid.steps, [], () => {}), el("p", { class: "finding-source" }, aid.source)] : null,
    main: { says: "Back to unlocking", act: () => lock.set({ page: null }) },
    row: handsFull(lock).slice(0, 2),
  };
}
