// Bytes: UTF-8, hexadecimal, base64 and SHA-256.

import { Wrong } from "./json.js";

const encoder = new TextEncoder();
const decoder = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

export function utf8(text) {
  if (!text.isWellFormed()) throw new TypeError("half a character");
  return encoder.encode(text);
}

export function text(bytes) {
  return decoder.decode(bytes);
}

export function joined(...parts) {
  const all = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let place = 0;
  for (const part of parts) {
    all.set(part, place);
    place += part.length;
  }
  return all;
}

export async function sha(bytes) {
  return new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
}

export function hex(bytes) {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export function unhex(written) {
  if (!/^(?:[0-9a-f]{2})*$/i.test(written)) throw new TypeError("not hexadecimal");
  return Uint8Array.from(written.match(/../g) ?? [], (pair) => Number.parseInt(pair, 16));
}

// Base64, written in the one way in which it can be.
export function unbase64(written) {
  const bytes = Uint8Array.from(atob(written), (character) => character.charCodeAt(0));
  if (base64(bytes) !== written) throw new Wrong("base64 with loose bits");
  return bytes;
}

export function base64(bytes) {
  return btoa(String.fromCharCode(...bytes));
}

export function equal(one, other) {
  return one.length === other.length && one.every((byte, place) => byte === other[place]);
}
