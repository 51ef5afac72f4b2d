// What must not be left alone at a bed, most urgent first. Pure: the reading of the clock comes in.

import { faintOf, secondsSince } from "./clocks.js";

/**
 * @param done what progress.js says @param draft {cameRound, takesOver} of the visit
 * @param limits seconds, of bedside_view.js @param now {at, page, mono_ms}
 * @returns [{code: "needle"|"tourniquet"|"pressure"|"watch"|"labels", says, tubes?}]; none once the visit has ended
 */
export function owedBy(done, draft, limits, now) {
  if (done.ended) return [];
  return [
    done.needleIn ? { code: "needle", says: "needle in the arm" } : null,
    ...Object.keys(done.tourniquet).map((side) => ({
      code: "tourniquet",
      says: `tourniquet on, ${side} arm`,
      side,
    })),
    done.careOwed ? pressure(done.needle) : null,
    watchOwed(done, draft, limits, now) ? { code: "watch", says: "fainted, not to be left yet" } : null,
    unlabelled(done),
  ].filter(Boolean);
}

function pressure(needle) {
  if (!needle.pressure) return { code: "pressure", says: "no pressure on the site" };
  const isDry = needle.look?.data?.bleeding === false;
  return { code: "pressure", says: isDry ? "site not taped" : "pressure, site not looked at" };
}

function unlabelled(done) {
  const tubes = done.kept.filter((tube) => !tube.readRight);
  return tubes.length ? { code: "labels", says: "unlabelled blood here", tubes } : null;
}

// AE-21: at least so long after they have come round. A book without that limit asks for no watch.
function watchOwed(done, draft, limits, now) {
  if (!faintOf(done) || !limits.faintWatch || draft.takesOver) return false;
  return !draft.cameRound || secondsSince(draft.cameRound, now) < limits.faintWatch;
}

/** What only a hand at the bed can go on with: it may be left to somebody who is named, and to nobody else. */
export const needsAHand = (owed) => owed.some(({ code }) => code !== "labels");

/** What is recorded when somebody took over at the bed: the end of the visit says who. @param named {name, role, at} */
export function saysWhoTookOver(acts, named) {
  if (!named) return acts;
  const words = `${named.name}, ${named.role}, took over at the bed`;
  return acts.map((act) => {
    if (act.kind !== "visit_ended") return act;
    const { told = named, reason } = act.data;
    return { ...act, data: { ...act.data, told, reason: [reason, words].filter(Boolean).join("; ") } };
  });
}
