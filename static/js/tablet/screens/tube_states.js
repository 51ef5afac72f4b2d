// The rack at the end of a visit: what became of each tube, to be seen at a glance.

import { rack } from "../parts/rack.js";
import { capColour } from "../parts/tube.js";

export function rackOf(v) {
  return rack(v.done.tubes, v.book.containers, {
    lines: (tube, container) => [capColour(container), becameOf(tube)],
  });
}

function becameOf(tube) {
  if (tube.discarded) return "discarded";
  if (tube.bagged) return "bagged";
  return tube.filled ? "full" : "empty";
}
