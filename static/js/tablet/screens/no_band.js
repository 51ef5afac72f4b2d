// No band on the patient: no draw. Full screen, with the way out and no way past.

import { el } from "../parts/dom.js";
import { wordingOf } from "./finding_words.js";
import { wrong } from "./common.js";

export function noBand(v, desk) {
  const words = wordingOf(v.book, "band-missing", "stop");
  return {
    name: "no_band",
    tone: "stop",
    sentence: words.says,
    body: [el("p", { class: "do-next" }, words.do_next), el("p", { class: "finding-source" }, words.source)],
    main: {
      says: "The nurse has put a band on: read it",
      act: () => desk.setDraft({ bandTyped: false, bandMissingSeen: v.done.bandMissing.id }),
    },
    row: [
      {
        says: "End the visit: not settled",
        act: () => desk.openPage("not_drawn", { outcome: "no_identity" }),
      },
      wrong(desk),
    ],
    onScan: null,
  };
}
