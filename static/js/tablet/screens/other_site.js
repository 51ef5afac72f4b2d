// No vein at this place: another place, or stop here.

import { PLACES } from "../parts/arms.js";
import { tiles } from "../parts/choices.js";
import { el } from "../parts/dom.js";
import { RESTRICTION } from "../words.js";
import { closedArms, wrong } from "./common.js";

export function otherSite(v, desk) {
  const closed = closedArms(v.patient, RESTRICTION);
  const here = v.done.prep.site ?? {};
  return {
    name: "other_site",
    sentence: "Another place?",
    aside: here.side
      ? `Looked at so far: ${here.side}, ${PLACES.find((each) => each.place === here.place)?.says ?? ""}.`
      : null,
    body: ["left", "right"].map((side) => side_(v, desk, side, closed[side], here)),
    main: {
      says: "Unable to obtain: stop here",
      look: "quiet",
      act: () => desk.openPage("not_drawn", { outcome: "no_vein" }),
    },
    row: [{ says: "Back", act: () => desk.closePage() }, wrong(desk)],
  };
}

function side_(v, desk, side, closed, here) {
  const places = PLACES.filter((each) => each.place !== here.place || side !== here.side);
  return el(
    "section",
    {},
    el("h2", { class: "group-name" }, `${side.toUpperCase()} arm${closed ? `, closed: ${closed}` : ""}`),
    tiles(
      places.map((each) => ({
        says: each.says,
        hint: closed ? "only by a written order" : null,
        act: () => take(desk, side, each.place, closed),
      })),
      { label: `${side} arm` },
    ),
  );
}

async function take(desk, side, place, why) {
  desk.closePage();
  if (why) return desk.openPage("closed_arm", { side, place, why });
  await desk.act([{ kind: "site_chosen", data: { side, place } }], { skipLook: false, lookAgain: true });
  return null;
}
