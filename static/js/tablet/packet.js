// What a packet must look like before a visit may begin with it. Pure: a packet in, a list of complaints out.

const SCHEMA = 1;

const isText = value => typeof value === "string" && value !== "";
const isList = Array.isArray;
const isWhole = Number.isInteger;
const isObject = value => typeof value === "object" && value !== null && !isList(value);

const PACKET = {
  id: isText, house: isText, schema: value => value === SCHEMA, revision: isWhole, made_at: isText, until: isText,
  people: isObject, rulebook: isText, rulebook_hash: isText, directory: isObject, spares: isList, visits: isList,
};
const VISIT = { id: isText, patient: isObject, tubes: isList, orders: isList };
const PATIENT = { name: isText, birth_date: isText, record_number: isText };
const TUBE = { id: isText, kind: isText, specimen: isText };

/** @returns {string[]} the fields of `thing` that are missing or of the wrong shape, each with its place */
function complaints(thing, shape, place) {
  return Object.entries(shape).filter(([field, fits]) => !fits(thing?.[field])).map(([field]) => place + field);
}

function visitComplaints(visit, place) {
  return [
    ...complaints(visit, VISIT, place),
    ...complaints(visit?.patient, PATIENT, `${place}patient.`),
    ...(isList(visit?.tubes) ? visit.tubes : []).flatMap((tube, n) => complaints(tube, TUBE, `${place}tubes[${n}].`)),
  ];
}

/**
 * @param {any} packet as the server sent it
 * @param {string} house the house this tablet works for
 * @param {string} hash the SHA-256 of the rulebook's text as it arrived
 * @returns {string[]} what is wrong with it; empty when it can be used
 */
export function wrongWith(packet, house, hash) {
  const wrong = complaints(packet, PACKET, "");
  if (wrong.length) return wrong;
  if (packet.house !== house) wrong.push("house");
  if (packet.rulebook_hash !== hash) wrong.push("rulebook_hash");
  return [...wrong, ...packet.visits.flatMap((visit, n) => visitComplaints(visit, `visits[${n}].`))];
}

/** The key one revision of one packet is stored under. */
export function keyOf(packet) {
  return `${packet.id}/${packet.revision}`;
}

/**
 * @param {{packet: any, newest: number | null, person: string | null}} known
 * @returns {boolean} whether the server should be asked for the packet again
 */
export function isStale({ packet, newest, person }) {
  if (!packet) return true;
  return (newest ?? 0) > packet.revision || Boolean(person && packet.by && packet.by !== person);
}
