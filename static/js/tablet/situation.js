// One visit as the judges take it: the case of the contract, without a step to come. Pure.

/**
 * @param visit as the packet carries it @param events of this visit, as saved @param at what time it is
 */
export function situationOf(visit, events, at) {
  return {
    patient: visit.patient,
    needle: visit.needle,
    cancelled: Boolean(visit.cancelled),
    limits: visit.limits ?? {},
    tubes: visit.tubes.map(({ id, kind, specimen, nominal_ml, tests }) => ({
      id,
      kind,
      specimen,
      nominal_ml,
      tests,
    })),
    events,
    now: at,
  };
}

/** The latest moment any event names, on the tablet's own clock: a look back changes nothing. */
export function lastMoment(events) {
  const moments = events.map((event) => Date.parse(event.at));
  return new Date(Math.max(...moments)).toISOString();
}

/** What the house compares with its own verdict. */
export function comparable(verdict) {
  return verdict.findings.map(({ code, severity, event }) => [code, severity, event]);
}
