// The needle is out and some tubes have no tap: what was filled is put in now, marked as put in afterwards.

import { capColour } from "../parts/tube.js";
import { rack } from "../parts/rack.js";
import { count, wrong } from "./common.js";

export function afterwards(v, desk) {
  const marked = v.draft.marked ?? [];
  const shown = v.done.tubes.map((tube) =>
    marked.includes(tube.id) ? { ...tube, filled: true, volume: tube.nominal_ml } : tube,
  );
  const toggle = (tube) =>
    v.done.open.some((each) => each.id === tube.id) &&
    desk.setDraft({
      marked: marked.includes(tube.id) ? marked.filter((id) => id !== tube.id) : [...marked, tube.id],
    });
  const full = v.done.needle.filled + marked.length;
  return {
    name: "afterwards",
    sentence: "Press. Which tubes are full?",
    aside: "Touch the ones that were filled.",
    body: [
      rack(shown, v.book.containers, {
        lines: (tube, container) => [capColour(container), tube.filled ? "full" : "empty"],
        onTube: toggle,
        says: (tube) => `Tube ${tube.number} ${tube.filled ? "full" : "empty"}`,
      }),
    ],
    main: full
      ? {
          says:
            full === v.done.tubes.length ? "All are full" : `${count(full, "tube")} full, the others empty`,
          act: () => desk.act(ended(v, marked), { marked: [] }),
        }
      : {
          says: "All are full",
          act: () =>
            desk.act(
              ended(
                v,
                v.done.open.map((tube) => tube.id),
              ),
              { marked: [] },
            ),
        },
    row: [
      ...(full
        ? []
        : [
            {
              says: "No blood flowed",
              act: () => desk.act([{ kind: "attempt_ended", data: { outcome: "no_flow" } }]),
            },
            {
              says: "I stopped",
              act: () => desk.act([{ kind: "attempt_ended", data: { outcome: "stopped" } }]),
            },
          ]),
      wrong(desk),
    ],
  };
}

function ended(v, ids) {
  const fills = ids.map((tube) => ({ kind: "tube_filled", data: { tube, volume_ml: null, after: true } }));
  const filled = v.done.needle.filled + ids.length;
  return [...fills, { kind: "attempt_ended", data: { outcome: filled ? "drawn" : "stopped" } }];
}
