// Gloves on, skin cleaned: one tap, and with what.

import { isBottle } from "../carrying.js";
import { tiles, lines } from "../parts/choices.js";
import { ANTISEPTICS } from "../words.js";
import { notDrawn, underOrder, wrong } from "./common.js";

export function clean(v, desk) {
  const chosen = v.draft.antiseptic ?? fitting(desk);
  const words = ANTISEPTICS.find(([code]) => code === chosen)[1];
  const on = Object.keys(v.done.tourniquet)[0];
  return {
    name: "clean",
    sentence: "Gloves on, clean the site",
    aside: latex(v) ? "Latex allergy: gloves and tourniquet without latex." : null,
    body: [
      lines([
        "Let it dry in the air: no wiping, no fanning, no blowing.",
        "Do not touch it again.",
        v.done.open.some(isBottle) ? BOTTLE_TOPS : null,
      ]),
      tiles(
        ANTISEPTICS.map(([code, says, hint]) => ({
          says,
          hint,
          chosen: code === chosen,
          act: () => desk.setDraft({ antiseptic: code }),
        })),
        { label: "Cleaned with" },
      ),
    ],
    main: {
      says: "Cleaned",
      hint: words,
      act: () => desk.act([{ kind: "skin_cleaned", data: { with: chosen } }]),
    },
    row: [
      on
        ? {
            says: "Tourniquet off",
            look: "act",
            act: () => desk.act([{ kind: "tourniquet_off", data: { side: on } }]),
          }
        : {
            says: "Look again",
            act: () =>
              desk.act(underOrder(v, desk, [{ kind: "tourniquet_on", data: { side: v.done.prep.site.side } }])),
          },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}

// SK-06 (secondary source)
export const BOTTLE_TOPS = "Bottle tops: wipe with 70 % isopropyl and let them dry. No iodine on them.";

const latex = (v) => v.patient.latex_allergy || v.done.answers.latex === "yes";

// The first that the rules do not object to for these tubes and this patient.
function fitting(desk) {
  const codes = ANTISEPTICS.map(([code]) => code);
  const isRight = (code) =>
    !desk
      .ahead([{ kind: "skin_cleaned", data: { with: code } }, { kind: "needle_in" }])
      .asks.some((finding) => finding.code === "antiseptic-wrong");
  return codes.find(isRight) ?? codes[0];
}
