// All that a bedside screen may look at, put together from packet, events, draft and verdict. Pure.

import { runningClocks, secondsOn, toneAt } from "./clocks.js";
import { stepOf } from "./flow.js";

/**
 * @param facts {packet (with its book), visit, done (progress.js), now, draft, verdict (null: not checked)}
 * @returns what screens are handed as `v`
 */
export function bedsideView({ packet, visit, done, now, draft, verdict }) {
  const { book } = packet;
  const { patient } = visit;
  const limits = limitsOf(book, patient, done);
  const tests = visit.tubes
    .flatMap((tube) => tube.tests ?? [])
    .map((code) => packet.directory?.tests?.[code] ?? {});
  const inversions = (tube) => tube.inversions ?? book.containers[tube.kind]?.inversions ?? 0;
  const clocks = [...runningClocks(done, limits), ...watching(draft, limits)];
  const step = stepOf(done, draft, { patient, tests, inversions, ...identityIn(verdict) });
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
    verdict,
    limits,
    tests,
    inversions,
    clocks,
    over,
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

function limitsOf(book, patient, done) {
  const of = (name) => book.limits[name].value;
  const thinner = patient.blood_thinner === true || ["yes", "unknown"].includes(done.answers.blood_thinner);
  const artery = done.incidents.some((incident) => incident.kind === "arterial");
  const long = thinner || artery;
  const why = thinner ? "blood thinner" : artery ? "artery" : "";
  const pressure = of(long ? "pressure_thinner_s" : "pressure_min_s");
  const minutes = `${Math.floor(pressure / 60)}:${String(pressure % 60).padStart(2, "0")}`;
  const povidone = done.prep.cleaned?.data?.with === "povidone_iodine";
  return {
    ready: of("tourniquet_ready_s"),
    tourniquet: of("tourniquet_max_s"),
    rest: of("tourniquet_rest_s"),
    dry: of(povidone ? "skin_dry_povidone_s" : "skin_dry_s"),
    pressure,
    pressureSays: why ? `${minutes}, ${why}` : minutes,
    look: of("look_min_s"),
    attempts: of("attempts_max"),
  };
}

// Watching the uncovered site is no event until it is over; its start is a draft.
function watching(draft, limits) {
  if (!draft.watch) return [];
  return [
    {
      key: "watch",
      kind: "watch",
      says: "watching the site",
      from: draft.watch,
      limit: limits.look,
      marks: [{ at: limits.look, says: `${limits.look} s`, tone: "calm" }],
      whenOver: "say what you see",
    },
  ];
}

/** {ready, tourniquet}: whether a tourniquet that is on has passed its first mark, or its limit. */
function tourniquetTones(clocks, now) {
  const tones = clocks
    .filter((clock) => clock.kind === "tourniquet")
    .map((clock) => toneAt(clock, secondsOn(clock, now)));
  return { ready: tones.some((tone) => tone !== "calm"), tourniquet: tones.includes("stop") };
}
