// Which arm, which place: two arms as you face the patient, closed sides named in words.

import { PLACES, twoArms } from "../parts/arms.js";
import { tiles } from "../parts/choices.js";
import { el } from "../parts/dom.js";
import { RESTRICTION } from "../words.js";
import { closedArms, notDrawn, wrong } from "./common.js";

export function arms(v, desk) {
  const closed = closedArms(v.patient, RESTRICTION);
  const preferred = ["left", "right"].includes(v.done.answers.arm_preference)
    ? v.done.answers.arm_preference
    : null;
  const side = v.draft.side ?? firstSide(closed, preferred, v);
  const tried = v.done.needle?.side ?? null;
  const place = v.draft.sitePlace ?? "median_cubital";
  return {
    name: "arms",
    sentence: "Choose the arm and the vein",
    aside:
      v.done.answers.fainted_before === "yes"
        ? "Has fainted before: lay the patient flat first."
        : "You face the patient: their left arm is on your right.",
    body: [
      twoArms({ closed, side, place, preferred, tried, onSide: (each) => desk.setDraft({ side: each }) }),
      tiles(
        PLACES.map((each) => ({
          says: each.says,
          hint: each.trade,
          chosen: each.place === place,
          act: () => desk.setDraft({ sitePlace: each.place }),
        })),
        { label: "Place" },
      ),
      infusion(v, side, desk),
    ],
    main: {
      says: side
        ? `${side === "left" ? "Left" : "Right"} arm, ${PLACES.find((each) => each.place === place).says}`
        : "Choose an arm",
      hint: side ? hintOf(v, closed[side]) : "touch one of the two",
      look: closed[side] && !v.draft.belowIv ? "quiet" : "act",
      off: !side,
      act: () => choose(v, desk, side, place),
    },
    row: [
      { says: "Neither arm", act: () => desk.openPage("not_drawn", { outcome: "restricted" }) },
      notDrawn(desk),
      wrong(desk),
    ],
  };
}

const hintOf = (v, why) => (why && !v.draft.belowIv ? `closed: ${why}` : null);

// The arm offered first: the preferred one if open, else the open one that was not tried before.
function firstSide(closed, preferred, v) {
  const tried = v.done.needle?.side ?? null;
  const open = ["left", "right"].filter((side) => !closed[side]);
  if (preferred && open.includes(preferred) && preferred !== tried) return preferred;
  return open.find((side) => side !== tried) ?? open[0] ?? null;
}

function infusion(v, side, desk) {
  const running = (v.patient.restrictions ?? []).some((each) => each.side === side && each.why === "iv");
  if (!running) return null;
  const below = Boolean(v.draft.belowIv);
  return el(
    "button",
    {
      class: "tile",
      type: "button",
      "aria-pressed": String(below),
      onclick: () => desk.setDraft({ belowIv: !below }),
      data: { rank: "row" },
    },
    el("b", {}, "The site lies below the infusion"),
  );
}

function choose(v, desk, side, place) {
  const why = closedArms(v.patient, RESTRICTION)[side];
  if (why && !v.draft.belowIv) return desk.openPage("closed_arm", { side, place, why });
  const data = { side, place, ...(v.draft.belowIv ? { below_iv: true } : {}) };
  return desk.act([{ kind: "site_chosen", data }], {
    side: null,
    sitePlace: null,
    belowIv: false,
    skipLook: false,
    bare: false,
  });
}
