// Gloves on, skin cleaned: one tap, and with what.

import { tiles, lines } from "../parts/choices.js";
import { ANTISEPTICS } from "../words.js";
import { notDrawn, wrong } from "./common.js";

export function clean(v, desk) {
  const culture = v.visit.tubes.some((tube) => tube.kind.startsWith("culture"));
  const chosen = v.draft.antiseptic ?? (culture ? "chlorhexidine_2" : "isopropyl_70");
  const words = ANTISEPTICS.find(([code]) => code === chosen)[1];
  const on = Object.keys(v.done.tourniquet)[0];
  return {
    name: "clean",
    sentence: "Gloves on, clean the site",
    aside: latex(v) ? "Latex allergy: gloves and tourniquet without latex." : null,
    body: [
      lines(["Let it dry in the air: no wiping, no fanning, no blowing.", "Do not touch it again."]),
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
            act: () => desk.act([{ kind: "tourniquet_on", data: { side: v.done.prep.site.side } }]),
          },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}

const latex = (v) => v.patient.latex_allergy || v.done.answers.latex === "yes";
