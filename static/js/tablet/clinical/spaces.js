// Pure: what is nothing in a text: spaces of every script, line ends, and what a scanner sends between two fields.

// Written out, because two languages that each call this "white space" mean different characters by it.
const SPACES =
  '\u0009\u000a\u000b\u000c\u000d\u001c\u001d\u001e\u001f\u0020\u0085\u00a0\u1680\u2000\u2001\u2002\u2003\u2004' +
  '\u2005\u2006\u2007\u2008\u2009\u200a\u2028\u2029\u202f\u205f\u3000\ufeff';
const SOME = new RegExp(`[${SPACES}]+`, 'gu');
const AT_AN_END = new RegExp(`^[${SPACES}]+|[${SPACES}]+$`, 'gu');

/** The text without spaces at either end. */
export const trimmed = (text) => text.replace(AT_AN_END, '');

/** Reports whether nothing is written there. */
export const isBlank = (text) => trimmed(text ?? '') === '';

/** What stands between the spaces. */
export const words = (text) => text.split(SOME).filter(Boolean);
