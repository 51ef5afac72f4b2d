// What stands beside every step of the hold: a look at the site, and a tube's own page.

import { secondsSince } from "../clocks.js";
import { Numbered } from "./common.js";

/** "Look at the site", marked once pressure was held long enough. */
export function siteAct(v, desk) {
  const { needle } = v.done;
  if (!needle?.pressure || needle.taped) return null;
  const enough = secondsSince(needle.pressure, v.now) >= v.limits.pressure;
  return { says: "Look at the site", look: enough ? "act" : "plain", act: () => desk.openPage("site") };
}

/** Touching a tube opens its own page: short, discarded, label again. */
export function tubePage(desk) {
  return {
    onTube: (tube) => desk.openPage("tube", { tube: tube.id }),
    says: (tube, container) => `${Numbered(tube)}, ${container.name ?? tube.kind}: more`,
  };
}
