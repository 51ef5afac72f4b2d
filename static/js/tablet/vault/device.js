// What makes a tablet the house's own: a signing key and a share, both kept where no script can read them out, and the
// house's public key. Lies in the store under `device`.

import { base64, hex, utf8 } from "./bytes.js";

const SIGNING = { name: "ECDSA", namedCurve: "P-256" };
const HOW = { name: "ECDSA", hash: "SHA-256" };

/** New keys: {pair, share, publicKey (base64)}. */
export async function newKeys() {
  const pair = await crypto.subtle.generateKey(SIGNING, false, ["sign", "verify"]);
  const share = await crypto.subtle.generateKey({ name: "HMAC", hash: "SHA-256", length: 256 }, false, ["sign"]);
  return { pair, share, publicKey: base64(await crypto.subtle.exportKey("raw", pair.publicKey)) };
}

/** The headers that prove a request came from this tablet. Twin: `bedside/people/tablets.py`, `Request.signed_by`. */
export async function signatureOf(device, method, path, body) {
  const digest = hex(await crypto.subtle.digest("SHA-256", utf8(body)));
  const bare = path.split("?")[0];
  const said = utf8(`bedside tablet 1\n${method}\n${bare}\n${device.tablet}\n${digest}`);
  const signature = base64(await crypto.subtle.sign(HOW, device.pair.privateKey, said));
  return { "X-Bedside-Tablet": device.tablet, "X-Bedside-Signature": signature };
}
