// Bytes and texts. Pure.

export const utf8 = text => new TextEncoder().encode(text);

/** Throws TypeError for bytes that are no UTF-8. */
export const fromUtf8 = bytes => new TextDecoder("utf-8", { fatal: true }).decode(bytes);

/** @param {ArrayBuffer | Uint8Array} bytes */
export function base64(bytes) {
  return btoa(Array.from(new Uint8Array(bytes), byte => String.fromCharCode(byte)).join(""));
}

/** Throws DOMException for what is no base64. */
export function fromBase64(text) {
  return Uint8Array.from(atob(text), letter => letter.charCodeAt(0));
}

export const hex = bytes => Array.from(new Uint8Array(bytes), byte => byte.toString(16).padStart(2, "0")).join("");

export function fromHex(text) {
  return Uint8Array.from(text.match(/../g) ?? [], pair => parseInt(pair, 16));
}

/** All of them, one after the other. */
export function joined(...parts) {
  const all = parts.map(part => new Uint8Array(part));
  const whole = new Uint8Array(all.reduce((sum, part) => sum + part.length, 0));
  let place = 0;
  for (const part of all) {
    whole.set(part, place);
    place += part.length;
  }
  return whole;
}
