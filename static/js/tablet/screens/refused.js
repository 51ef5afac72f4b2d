// The patient, or who decides for them, said no: no draw. Ending the visit asks who was told.

import { el } from "../parts/dom.js";
import { wrong } from "./common.js";

export function refused(v, desk) {
  return {
    name: "refused",
    sentence: "Refused: no draw",
    body: [
      el(
        "p",
        { class: "do-next" },
        "Do not draw. Say that it is their right, and that the nurse will be told.",
      ),
    ],
    main: { says: "End the visit: refused", act: () => desk.openPage("not_drawn", { outcome: "refused" }) },
    row: [
      // Whoever agrees now is asked again, and named where somebody decides for the patient.
      { says: "They agree after all: ask again", act: () => desk.setDraft({ retake: "consent", consentBy: null }) },
      wrong(desk),
    ],
  };
}
