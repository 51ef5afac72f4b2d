// How much blood this visit may take, what was drawn before and what this tablet drew itself meanwhile. Pure: volumes in
// mL and every sentence come from the packet.

const round = (ml) => Math.round(ml * 1e6) / 1e6;

/**
 * mL drawn on this tablet from the patient of `visit` at other visits, which the packet does not count yet: what is not
 * sent, and what the house took in after it had made the packet. Failed tries and discards are blood, too.
 * @param stops every visit known here: [{visit, done}] @param packet what `visit` goes by @param skewMs server minus tablet
 */
export function drawnHereMl(stops, visit, packet, skewMs = 0) {
  const others = stops.filter((stop) => stop.visit.id !== visit.id && stop.visit.patient.id === visit.patient.id);
  const isNew = ({ filled }) => filled && !isCounted(filled, packet, skewMs);
  const tubes = others.flatMap(({ done }) => done.tubes.filter(isNew));
  return round(tubes.reduce((sum, tube) => sum + (tube.volume ?? 0), 0));
}

function isCounted({ answer }, packet, skewMs) {
  const answeredAt = Date.parse(answer?.at ?? "");
  return Number.isFinite(answeredAt) && answeredAt + skewMs <= Date.parse(packet.made_at);
}

/**
 * What may be drawn now, or null where nothing limits it: {ml, binds, rows: [{what, limit, drawn, left}], allowed, hereMl}.
 * binds: which of the limits is the smallest, in words. allowed: the packet's word that lets more be drawn, or null.
 */
export function allowedNow(visit, hereMl = 0) {
  const most = visit.limits?.max_draw_ml ?? null;
  if (most === null) return null;
  const rows = limitRows(visit.volume ?? {}, hereMl);
  const [tightest] = [...rows].sort((a, b) => a.left - b.left);
  const allowed = visit.volume?.allowed ?? null;
  const binds = allowed ? "allowed above the limit" : (tightest?.what ?? "as the house planned it");
  const left = allowed || !tightest ? most - hereMl : Math.min(most, tightest.left);
  return { ml: round(Math.max(0, left)), binds, rows, allowed, hereMl };
}

/** One row for each limit that holds: what it is for, how much it is, what counts against it, what is left. */
export function limitRows(volume, hereMl = 0) {
  return [
    { what: "one draw", limit: volume.draw_limit_ml, drawn: 0 },
    { what: "24 hours", limit: volume.day_limit_ml, drawn: (volume.drawn_24h_ml ?? 0) + hereMl },
    { what: "8 weeks", limit: volume.eight_weeks_limit_ml, drawn: (volume.drawn_8_weeks_ml ?? 0) + hereMl },
  ]
    .filter(({ limit }) => Number.isFinite(limit))
    .map((row) => ({ ...row, drawn: round(row.drawn), left: round(Math.max(0, row.limit - row.drawn)) }));
}

/** The tubes that do not fit any more, the most pressing orders served first. @param left mL @returns [tube] */
export function waitingTubes(visit, tubes, left) {
  const place = (tube) => {
    const places = (visit.orders ?? []).map(({ test }, index) => (tube.tests?.includes(test) ? index : Infinity));
    return Math.min(Infinity, ...places);
  };
  let room = left;
  return [...tubes]
    .sort((a, b) => place(a) - place(b) || a.number - b.number)
    .filter((tube) => {
      const wants = tube.draw_ml ?? tube.nominal_ml ?? 0;
      if (wants > room + 1e-9) return true;
      room -= wants;
      return false;
    });
}

/** Whether this child may not be drawn before somebody has put in a weight: the house then allows nothing. */
export function mustBeWeighed({ limits, patient }) {
  return limits?.max_draw_ml === 0 && !Number.isFinite(patient.weight_kg);
}
