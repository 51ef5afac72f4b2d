// The tubes of a visit as a rack seen from the front, in the order of draw.

import { el } from "./dom.js";
import { tubePicture, tubeCaption } from "./tube.js";

/**
 * @param tubes of progress.js @param containers of the rulebook, by kind
 * @param options {inHand: tube id, lines: tube → texts, onTube: tube → void}
 */
export function rack(
  tubes,
  containers,
  { inHand = null, lines = () => [], onTube = null, says = null } = {},
) {
  return el(
    "div",
    {
      class: "rack",
      role: "list",
      "aria-label": "Tubes in the order of draw",
      data: { count: Math.min(tubes.length, 10) },
    },
    tubes.map((tube) =>
      slot(tube, { ...(containers[tube.kind] ?? {}), kind: tube.kind }, { inHand, lines, onTube, says }),
    ),
  );
}

function slot(tube, container, { inHand, lines, onTube, says }) {
  const now = tube.id === inHand;
  const inside = [
    tubePicture(container, { share: shareOf(tube), inHand: now, struck: Boolean(tube.discarded) }),
    tubeCaption(tube, container, lines(tube, container), now),
  ];
  const holder = onTube
    ? el(
        "button",
        {
          class: "slot",
          type: "button",
          onclick: () => onTube(tube),
          data: { rank: "other", tube: tube.id },
          "aria-label": says?.(tube, container),
        },
        inside,
      )
    : el("span", { class: "slot", data: { tube: tube.id } }, inside);
  return el("div", { class: "slot-place", role: "listitem" }, holder);
}

/** How full a tube is, 0 to 1; a tube without a nominal volume counts as full once it was filled. */
export function shareOf(tube) {
  if (!tube.filled) return 0;
  if (!tube.nominal_ml || tube.volume === null) return 1;
  return Math.max(0.06, Math.min(1, tube.volume / tube.nominal_ml));
}
