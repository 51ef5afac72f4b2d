// Pure: a packet's rules and the cases that came with them -> the first case this tablet judges otherwise, or null.
// No DOM, no storage, no clock. What the server's judge said of each case stands in the packet.

/**
 * @param judge of judge.js @param book the packet's rulebook
 * @param selfTest {shared, cases: [{name, case, verdict}]} of the packet; none at all is no self-test passed
 * @returns {{name: string, why: string} | null}
 */
export function firstDifference(judge, book, selfTest) {
  if (!selfTest?.cases?.length) return { name: "none", why: "no cases came with the rules" };
  for (const { name, case: short, verdict } of selfTest.cases) {
    const why = differs(judge, book, writtenOut(short, selfTest.shared), verdict);
    if (why) return { name, why };
  }
  return null;
}

// A rule that breaks has not answered: that is a difference, too.
function differs(judge, book, situation, expected) {
  try {
    const told = JSON.stringify(compared(judge(book, situation), expected));
    return told === JSON.stringify(expected) ? null : `judged ${told}`;
  } catch (error) {
    return `could not be judged: ${error.message}`;
  }
}

/** A case names what it shares with others by its place in the list. */
function writtenOut(short, shared) {
  const { patient, tubes, events = [] } = short;
  return {
    ...short,
    patient: shared[patient],
    tubes: tubes === undefined ? [] : shared[tubes],
    events: events.map((place) => shared[place]),
  };
}

// The same fields in the same order as the packet has them.
function compared(verdict, expected) {
  const fields = Object.keys(expected).map((field) => [field, verdict[field]]);
  const findings = verdict.findings.map(({ code, severity, event }) => [code, severity, event ?? null]);
  return { ...Object.fromEntries(fields), findings };
}
