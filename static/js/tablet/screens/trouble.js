// What can stand in the way before any round: a browser that lacks something, no packet, nothing saved.

import { el } from "../parts/dom.js";
import { lines } from "../parts/choices.js";

export function missing(what) {
  return {
    name: "missing",
    tone: "stop",
    sentence: "This browser cannot carry a round",
    body: [
      lines(
        what.map(({ what: lacks, why }) => `It lacks ${lacks}. ${why}`),
        "stop",
      ),
    ],
    main: null,
    row: [],
  };
}

/** A screen that could not be drawn. Nothing saved is lost by it. */
export function broken(desk, error) {
  return {
    name: "broken",
    tone: "stop",
    sentence: "This screen could not be shown",
    body: [
      el(
        "p",
        { class: "do-next" },
        "Everything saved is safe. Go on by your site’s paper procedure for this patient," +
          " and tell whoever keeps the house.",
      ),
      el("p", { class: "finding-source" }, String(error?.message ?? error)),
    ],
    main: { says: "Back to the round", act: () => desk.leaveVisit() },
    row: [],
  };
}

export function notSaved(desk) {
  const { says, doNext, what } = desk.trouble;
  return {
    name: "not_saved",
    tone: "stop",
    sentence: says,
    body: [el("p", { class: "do-next" }, doNext), el("p", { class: "finding-source" }, what)],
    main: { says: "I have read this", act: () => desk.troubleSeen() },
    row: [],
  };
}

export function noPacket(desk) {
  const { status } = desk.engine;
  const signIn = status.state === "sign-in";
  return {
    name: "no_packet",
    sentence: signIn
      ? "Sign in to get your round"
      : status.state === "no-store"
        ? "This tablet cannot save"
        : "No round on this tablet yet",
    aside: status.trouble
      ? `${status.trouble.says} ${status.trouble.do_next}`
      : signIn
        ? null
        : "It is fetched as soon as the server answers.",
    body: [desk.refreshSays ? lines([desk.refreshSays], "act") : null],
    main: signIn
      ? {
          says: "Sign in",
          act: () => {
            location.href = "/sign-in?next=/tablet/";
          },
        }
      : { says: "Ask for the round", act: () => desk.refresh() },
    row: [{ says: "This tablet", act: () => desk.openPage("this_tablet") }],
  };
}
