// Some tubes are empty: once more at another place, or stop here. Two attempts a person, then a colleague.

import { capColour } from "../parts/tube.js";
import { el } from "../parts/dom.js";
import { rack } from "../parts/rack.js";
import { wordingOf } from "./finding_words.js";
import { countOf, wrong } from "./common.js";

export function again(v, desk) {
  const usedUp = v.done.mine >= v.limits.attempts;
  return usedUp ? stop(v, desk) : once(v, desk);
}

function once(v, desk) {
  return {
    name: "again",
    sentence: `${countOf(v.done.open)} still empty. Try once more?`,
    aside: "Another place: the other arm first, or below. Ask the patient.",
    body: [
      rack(v.done.tubes, v.book.containers, {
        lines: (tube, container) => [capColour(container), tube.filled ? "full" : "empty"],
      }),
    ],
    main: {
      says: "Try again, another place",
      act: () => desk.setDraft({ again: v.done.needles.length, skipLook: false, bare: false, side: null }),
    },
    row: [stopHere(v, desk), wrong(desk)],
  };
}

function stop(v, desk) {
  const words = wordingOf(v.book, "attempts-used-up", "stop");
  return {
    name: "again",
    tone: "stop",
    sentence: words.says,
    body: [el("p", { class: "do-next" }, words.do_next), el("p", { class: "finding-source" }, words.source)],
    main: v.done.kept.length
      ? { says: "Stop here", act: () => desk.setDraft({ stopHere: v.done.needles.length }) }
      : {
          says: "Unable to obtain: hand over",
          act: () => desk.openPage("not_drawn", { outcome: "no_vein" }),
        },
    row: [
      {
        says: "A third try was made",
        act: () => desk.setDraft({ again: v.done.needles.length, skipLook: false, bare: false, side: null }),
      },
      wrong(desk),
    ],
  };
}

function stopHere(v, desk) {
  const act = v.done.kept.length
    ? () => desk.setDraft({ stopHere: v.done.needles.length })
    : () => desk.openPage("not_drawn", v.done.incidents.length ? {} : { outcome: "no_vein" });
  return { says: "Stop here", act };
}
