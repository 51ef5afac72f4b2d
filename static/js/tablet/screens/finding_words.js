// A finding's words, straight from the rulebook.

/** @returns {{says, do_next, source}} */
export function wordingOf(book, code, severity) {
  const kind = book.findings[code];
  const words = kind?.wording?.[severity] ??
    Object.values(kind?.wording ?? {})[0] ?? { says: code, do_next: "" };
  return { ...words, source: kind?.source ?? "" };
}
