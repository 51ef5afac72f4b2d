// One tube by itself: filled short, discarded, label again, replaced by a spare.

import { el } from "../parts/dom.js";
import { tubePicture, wordsFor } from "../parts/tube.js";
import { shareOf } from "../parts/rack.js";
import { ml } from "../child.js";
import { alternatives, tiles } from "../parts/choices.js";
import { fullOf } from "./draw.js";
import { containerOf, noun, Numbered, numbered, wrong } from "./common.js";
import { SHARES, volumeOf } from "./short.js";
import { sendToPrinter } from "./label_screens.js";

export function tubePageScreen(v, desk, page) {
  const tube = v.done.tubes.find((each) => each.id === page.tube);
  const container = containerOf(v, tube);
  const act = (kind, data) => desk.act([{ kind, data: { tube: tube.id, ...data } }]);
  const share = tube.filled && tube.nominal_ml ? String(shareOf(tube)) : null;
  return {
    name: "tube",
    sentence: `${Numbered(tube)}, ${wordsFor(container, tube)}`,
    aside: [
      (tube.names ?? []).join(", "),
      tube.volume ? ml(tube.volume) : null,
      tube.filled ? `mixed ${tube.mixed}` : "empty",
    ]
      .filter(Boolean)
      .join(" · "),
    body: [
      el(
        "div",
        { class: "big-tube" },
        tubePicture(
          { ...container, kind: tube.kind },
          { share: shareOf(tube), struck: Boolean(tube.discarded) },
        ),
      ),
      tube.discarded
        ? null
        : alternatives(tube.filled ? "How full it is" : "It was filled", [...SHARES, ["ml", "mL"]], share, (each) =>
            each === "ml"
              ? desk.openPage("short", { tube: tube.id, afterwards: true })
              : act("tube_filled", { volume_ml: volumeOf(tube, each) ?? fullOf(tube), after: true }),
          ),
      tiles(others(v, desk, tube, act), { label: "Other" }),
    ],
    main: { says: "Back", look: "quiet", act: () => desk.closePage() },
    row: [wrong(desk)],
  };
}

function others(v, desk, tube, act) {
  const isKept = tube.filled && !tube.discarded;
  return [
    isKept
      ? {
          says: "Mixed some more",
          hint: "5 times over and back",
          act: () => act("tube_mixed", { inversions: 5 }),
        }
      : null,
    isKept ? { says: "Print its label again", act: () => sendToPrinter(v, desk, [tube]) } : null,
    tube.filled && !tube.discarded
      ? {
          says: `Discard this ${noun(tube)}`,
          hint: "its blood still counts",
          act: () => act("tube_discarded", { reason: "discarded at the bedside" }),
        }
      : null,
    tube.discarded || !tube.filled
      ? { says: "Take a spare in its place", hint: "same kind, new number", act: () => spare(v, desk, tube) }
      : null,
  ].filter(Boolean);
}

async function spare(v, desk, tube) {
  const taken = await desk.engine.takeSpare();
  if (!taken)
    return desk.say(
      "There is no spare number left in this packet.",
      `Ask for new orders, or leave this ${noun(tube)} to the next round.`,
    );
  const data = {
    tube: desk.newId(),
    kind: tube.kind,
    specimen: taken.specimen,
    nominal_ml: tube.nominal_ml ?? null,
    why: `in place of ${numbered(tube)}`,
    asked_by: "",
  };
  const gone = tube.discarded
    ? []
    : [{ kind: "tube_discarded", data: { tube: tube.id, reason: "a spare was taken" } }];
  if (await desk.save([...gone, { kind: "tube_added", data: { ...data, label: taken.label } }]))
    desk.closePage();
  return null;
}
