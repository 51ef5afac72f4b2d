// Pure: events in any order -> what happened, first to last, after corrections.

import { sharedMs } from './events.js';

/** What happened, first to last, each event knowing its place. Steps to come stand last. */
export function inOrder(events, steps = []) {
  const corrections = latestCorrections([...merged(queues(events)), ...steps]);
  const [stay, moved] = corrected(events, corrections);
  const happened = [...merged([...queues(stay), ...moved.map((event) => [event])]), ...steps];
  return happened.map((event, place) => ({ ...event, place }));
}

function queues(events) {
  const byTablet = new Map();
  const key = (event) => [event.seq, event.at_ms, event.id ?? ''];
  for (const event of sortedBy(events, key)) {
    byTablet.set(event.tablet, [...(byTablet.get(event.tablet) ?? []), event]);
  }
  return [...byTablet.values()];
}

function merged(given) {
  const waiting = given.filter((queue) => queue.length > 0).map((queue) => [...queue]);
  const result = [];
  const key = (queue) => [sharedMs(queue[0]), queue[0].tablet, queue[0].seq, queue[0].id ?? ''];
  while (waiting.some((queue) => queue.length > 0)) {
    const [first] = sortedBy(waiting.filter((queue) => queue.length > 0), key);
    result.push(first.shift());
  }
  return result;
}

function latestCorrections(ordered) {
  return new Map(ordered.filter((event) => event.kind === 'corrected').map((event) => [event.data.event, event]));
}

/** The events that keep their place, and those that a correction put at another time. */
function corrected(events, corrections) {
  const stay = [];
  const moved = [];
  for (const event of events) {
    const correction = event.kind === 'corrected' || event.id === null ? undefined : corrections.get(event.id);
    if (correction === undefined) {
      stay.push(event);
      continue;
    }
    const now = asCorrected(event, correction);
    if (now !== null) (correction.data.at == null ? stay : moved).push(now);
  }
  return [stay, moved];
}

/** The event as its correction leaves it; null when it did not happen. */
function asCorrected(event, correction) {
  const { data, at } = correction.data;
  if (data === null) return null;
  const moved = at == null ? {} : { at_ms: Date.parse(at), mono_ms: null };
  return { ...event, ...moved, data: data === undefined ? event.data : data };
}

/** A sorted copy; keys are lists, compared item by item. */
export function sortedBy(items, key) {
  return items
    .map((item) => ({ item, key: key(item) }))
    .sort((a, b) => compare(a.key, b.key))
    .map(({ item }) => item);
}

function compare(a, b) {
  for (const [place, value] of a.entries()) {
    if (value < b[place]) return -1;
    if (value > b[place]) return 1;
  }
  return 0;
}
