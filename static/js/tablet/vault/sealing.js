// Seals a text to a public key: only the holder of the private one can open it, and this tablet is none.
// Form and construction: bedside/sync/sealing.py. A key made for this one text, ECDH P-256, HKDF-SHA256, AES-256-GCM.

import { randomBytes } from "../identifiers.js";
import { base64, fromBase64, fromHex, fromUtf8, joined, utf8 } from "./bytes.js";

const CURVE = { name: "ECDH", namedCurve: "P-256" };
const FORM = new Uint8Array([1]);
const [NAME, POINT, NONCE] = [8, 65, 12];
const PURPOSE = utf8("bedside event 1");

/** What a seal is bound to: it opens as this event of this tablet and as no other. */
const boundTo = (id, tablet) => utf8(`bedside|event|1|${id}|${tablet}`);

/**
 * @param {{kid: string, key: string}} to name (hex) and point (base64) of the public key
 * @param {string} text @param {string} id @param {string} tablet
 * @returns {Promise<string>} base64
 */
export async function sealTo(to, text, id, tablet) {
  const point = fromBase64(to.key);
  const once = await crypto.subtle.generateKey(CURVE, false, ["deriveBits"]);
  const mine = new Uint8Array(await crypto.subtle.exportKey("raw", once.publicKey));
  const key = await agreedKey(once.privateKey, point, joined(mine, point));
  const nonce = randomBytes(NONCE);
  const how = { name: "AES-GCM", iv: nonce, additionalData: boundTo(id, tablet) };
  const sealed = await crypto.subtle.encrypt(how, key, utf8(text));
  return base64(joined(FORM, fromHex(to.kid), mine, nonce, sealed));
}

/** Opens what was sealed to our own key. Rejects when a byte was changed or it is the seal of another event. */
export async function openSealed({ privateKey, point }, sealed, id, tablet) {
  const raw = fromBase64(sealed);
  const other = raw.slice(1 + NAME, 1 + NAME + POINT);
  const rest = raw.slice(1 + NAME + POINT);
  const key = await agreedKey(privateKey, other, joined(other, point));
  const how = { name: "AES-GCM", iv: rest.slice(0, NONCE), additionalData: boundTo(id, tablet) };
  return fromUtf8(await crypto.subtle.decrypt(how, key, rest.slice(NONCE)));
}

/** The AES key both ends come to. */
async function agreedKey(privateKey, point, salt) {
  const other = await crypto.subtle.importKey("raw", point, CURVE, false, []);
  const shared = await crypto.subtle.deriveBits({ name: "ECDH", public: other }, privateKey, 256);
  const material = await crypto.subtle.importKey("raw", shared, "HKDF", false, ["deriveKey"]);
  return crypto.subtle.deriveKey({ name: "HKDF", hash: "SHA-256", salt, info: PURPOSE }, material,
    { name: "AES-GCM", length: 256 }, false, ["encrypt", "decrypt"]);
}

/** A key pair others can seal to: {privateKey, point, to: {kid, key}}. */
export async function newBox() {
  const pair = await crypto.subtle.generateKey(CURVE, true, ["deriveBits"]);
  const point = new Uint8Array(await crypto.subtle.exportKey("raw", pair.publicKey));
  return { pkcs8: await crypto.subtle.exportKey("pkcs8", pair.privateKey), point };
}

/** The private half of a box, as it was exported; it cannot be exported again. */
export function importBox(pkcs8) {
  return crypto.subtle.importKey("pkcs8", pkcs8, CURVE, false, ["deriveBits"]);
}
