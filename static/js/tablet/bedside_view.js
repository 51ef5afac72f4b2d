// All that a bedside screen may look at, put together from packet, events, draft and verdict. Pure.

import { mustBeWeighed } from "./blood.js";
import { runningClocks, secondsOn, toneAt } from "./clocks.js";
import { stepOf } from "./flow.js";
import { dryingTimeS, needsLonger } from "./judge.js";
import { owedBy } from "./owed.js";
import { ofKind } from "./visit.js";

/**
 * @param facts {packet (with its book), visit, done (progress.js), now, draft, verdict (null: not checked),
 *   elsewhere: {at, by, outcome?}|null, what another tablet did at this bed,
 *   houseMs: ms since 1970 on the house's clock, allowed: of blood.js, what may be drawn now}
 * @returns what screens are handed as `v`
 */
export function bedsideView({ packet, visit, done, now, houseMs, allowed, draft, verdict, elsewhere }) {
  const { book } = packet;
  const { patient } = visit;
  const limits = limitsOf(book, done);
  const tests = visit.tubes
    .flatMap((tube) => tube.tests ?? [])
    .map((code) => packet.directory?.tests?.[code] ?? {});
  const inversions = (tube) => tube.inversions ?? book.containers[tube.kind]?.inversions ?? 0;
  const clocks = runningClocks(done, limits, draft);
  const unweighed = mustBeWeighed(visit);
  const step = stepOf(done, draft, { patient, tests, inversions, elsewhere, unweighed, ...identityIn(verdict) });
  const over = tourniquetTones(clocks, now);
  return {
    packet,
    book,
    zone: packet.zone,
    visit,
    patient,
    done,
    draft,
    now,
    houseMs,
    allowed,
    verdict,
    limits,
    tests,
    inversions,
    clocks,
    over,
    owed: owedBy(done, draft, limits, now),
    elsewhere,
    step,
  };
}

// Without a verdict nothing is known to agree: that blocks, it never means that nothing was found.
function identityIn(verdict) {
  const says = (severity) =>
    Boolean(
      verdict?.findings.some((each) => each.code === "identity-mismatch" && each.severity === severity),
    );
  return { notChecked: verdict === null, mismatch: says("stop"), partialName: says("ask") };
}

/** The limits this visit goes by, in seconds; which of two counts is the judge's to say. */
export function limitsOf(book, done) {
  const of = (name) => book.limits[name]?.value ?? null;
  const long = needsLonger(done.facts, { place: Infinity });
  const pressure = of(long ? "pressure_thinner_s" : "pressure_min_s");
  const minutes = `${Math.floor(pressure / 60)}:${String(pressure % 60).padStart(2, "0")}`;
  return {
    ready: of("tourniquet_ready_s"),
    tourniquet: of("tourniquet_max_s"),
    rest: of("tourniquet_rest_s"),
    dry: dryingTimeS(done.prep.cleaned ?? { data: {} }, book),
    pressure,
    pressureSays: long ? `${minutes}, ${whyLonger(done)}` : minutes,
    look: of("look_min_s"),
    attempts: of("attempts_max"),
    faintWatch: of("faint_watch_s"),
  };
}

const whyLonger = ({ facts }) =>
  ofKind(facts, "incident_opened", "incident_noted").some(({ data }) => data.kind === "arterial")
    ? "artery"
    : "blood thinner";

/** {ready, tourniquet}: whether a tourniquet that is on has passed its first mark, or its limit. */
function tourniquetTones(clocks, now) {
  const tones = clocks
    .filter((clock) => clock.kind === "tourniquet")
    .map((clock) => toneAt(clock, secondsOn(clock, now)));
  return { ready: tones.some((tone) => tone !== "calm"), tourniquet: tones.includes("stop") };
}
