// Pure: whether two names are the same name, whatever the case, the accents, the hyphens or the order of the parts.

import { words } from './spaces.js';

const ACCENTS = /[\u0300-\u036f\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff\ufe20-\ufe2f]/gu;
const HYPHENS = /[\u002d\u00ad\u2010-\u2015\u2212]/gu;
const APOSTROPHES = /[\u0060\u00b4\u02b9\u02bb\u02bc\u02bd\u2018\u2019\u201b\u2032]/gu;
const COMMAS = /[\u002c\u060c\u3001]/gu;
const STANDS_FOR = [' ', ''];

export const SAME = 'same';
export const PART_LEFT_OUT = 'part left out';
export const OTHER = 'other';

/** Reports whether two names are equal; two empty names are not. `letters` is the rulebook's. */
export function sameName(a, b, letters) {
  const known = new Set(spellings(b, letters).map(asText));
  return spellings(a, letters).some((parts) => known.has(asText(parts)));
}

/** SAME, PART_LEFT_OUT when one lacks a part and at least `sharedMin` are shared, or OTHER. */
export function compareNames(a, b, sharedMin, letters) {
  if (sameName(a, b, letters)) return SAME;
  const others = spellings(b, letters);
  const partly = spellings(a, letters).some((one) => others.some((other) => lacksAPart(one, other, sharedMin)));
  return partly ? PART_LEFT_OUT : OTHER;
}

/** Every way to read the name: its parts in order of the alphabet; none for an empty name. */
function spellings(name, letters) {
  // Apostrophes first: one of them would be taken apart into a space and an accent.
  const known = plain(name.replace(APOSTROPHES, "'"), letters).replace(COMMAS, ' ');
  return STANDS_FOR.flatMap((hyphen) =>
    STANDS_FOR.map((apostrophe) => words(known.replace(HYPHENS, hyphen).replaceAll("'", apostrophe)).sort()),
  ).filter((parts) => parts.length > 0);
}

function plain(name, letters) {
  const apart = name.normalize('NFKD').toLowerCase().normalize('NFKD').toLowerCase();
  return [...apart.replace(ACCENTS, '')].map((letter) => letters[letter] ?? letter).join('');
}

function lacksAPart(one, other, sharedMin) {
  const [fewer, more] = one.length <= other.length ? [one, other] : [other, one];
  if (fewer.length < sharedMin || fewer.length === more.length) return false;
  const left = [...more];
  return fewer.every((part) => {
    const place = left.indexOf(part);
    if (place < 0) return false;
    left.splice(place, 1);
    return true;
  });
}

function asText(parts) {
  return parts.join(' ');
}
