// One record under one key: AES-256-GCM, a fresh nonce each time, bound to where it belongs.

import { randomBytes } from "../identifiers.js";
import { fromUtf8, utf8 } from "./bytes.js";

const NONCE = 12;

/** A record that is not what was written: one bit changed, or moved to another record's place. */
export class RecordDamaged extends Error {
  name = "RecordDamaged";
  says = "A record on this tablet was changed or damaged. It is not shown.";
  do_next = "What it reported is sealed besides, and is sent. Check this patient’s record at the house.";
}

/** @param {{house: string, store: string, record: string, round: string}} place what the record is bound to */
const bound = ({ house, store, record, round }) => utf8(["bedside|1", house, store, record, round].join("|"));

/** @param {CryptoKey} key @param {unknown} value plain data @returns {Promise<{iv: Uint8Array, ct: Uint8Array}>} */
export async function lock(key, value, place) {
  const iv = randomBytes(NONCE);
  const how = { name: "AES-GCM", iv, additionalData: bound(place) };
  return { iv, ct: new Uint8Array(await crypto.subtle.encrypt(how, key, utf8(JSON.stringify(value)))) };
}

/** Rejects with RecordDamaged: another key, a changed bit or another place are not told apart. */
export async function unlock(key, { iv, ct }, place) {
  try {
    const how = { name: "AES-GCM", iv, additionalData: bound(place) };
    return JSON.parse(fromUtf8(await crypto.subtle.decrypt(how, key, ct)));
  } catch (cause) {
    throw new RecordDamaged("The tag does not fit", { cause });
  }
}
