// Bytes into text as the server's reader takes them: UTF-8 (with or without its mark), where half of a character that stands as
// three bytes is kept and left to whoever refuses it; also UTF-16 and UTF-32.

import { ValueError } from "./errors.js";

const UTF8 = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

/**
 * The text of the bytes; ValueError says where they are none.
 * @param {Uint8Array} bytes
 * @returns {string}
 */
export function decoded(bytes) {
  const encoding = encodingOf(bytes);
  if (encoding === "utf-8-sig") return utf8(bytes.subarray(3));
  if (encoding === "utf-8") return utf8(bytes);
  const [size, little] = [encoding.startsWith("utf-16") ? 2 : 4, encoding.endsWith("le")];
  const rest = bytes.length % size;
  if (rest) fail(bytes, bytes.length - rest, bytes.length, "truncated data", encoding);
  return wide(bytes, size, little);
}

function encodingOf(b) {
  const begins = (...mark) => mark.every((byte, i) => b[i] === byte);
  if (begins(0, 0, 0xfe, 0xff)) return "utf-32-be";
  if (begins(0xff, 0xfe, 0, 0)) return "utf-32-le";
  if (begins(0xfe, 0xff)) return "utf-16-be";
  if (begins(0xff, 0xfe)) return "utf-16-le";
  if (begins(0xef, 0xbb, 0xbf)) return "utf-8-sig";
  if (b.length >= 4) {
    if (!b[0]) return b[1] ? "utf-16-be" : "utf-32-be";
    if (!b[1]) return b[2] || b[3] ? "utf-16-le" : "utf-32-le";
  } else if (b.length === 2) {
    if (!b[0]) return "utf-16-be";
    if (!b[1]) return "utf-16-le";
  }
  return "utf-8";
}

// Characters of two bytes, where halves of pairs find each other by themselves, or of four.
function wide(bytes, size, little) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  let text = "";
  for (let at = 0; at < bytes.length; at += size) {
    const code = size === 2 ? view.getUint16(at, little) : view.getUint32(at, little);
    if (code > 0x10ffff) fail(bytes, at, at + 4, "code point not in range(0x110000)", little ? "utf-32-le" : "utf-32-be");
    text += size === 2 ? String.fromCharCode(code) : String.fromCodePoint(code);
  }
  return text.replace(/^\ufeff/, "");
}

function utf8(bytes) {
  try {
    return UTF8.decode(bytes);
  } catch {
    return carefully(bytes);
  }
}

// Character by character, to find the fault or to keep the halves of characters.
function carefully(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length;) {
    const first = bytes[at];
    const length = first < 0x80 ? 1 : first < 0xc2 ? 0 : first < 0xe0 ? 2 : first < 0xf0 ? 3 : first < 0xf5 ? 4 : 0;
    if (!length) fail(bytes, at, at + 1, "invalid start byte");
    let code = length === 1 ? first : first & (0x7f >> length);
    for (let i = 1; i < length; i += 1) {
      if (at + i >= bytes.length) fail(bytes, at, at + i, "unexpected end of data");
      if (!continues(bytes, at, i)) fail(bytes, at, at + i, "invalid continuation byte");
      code = (code << 6) | (bytes[at + i] & 0x3f);
    }
    text += String.fromCodePoint(code);
    at += length;
  }
  return text;
}

function continues(bytes, at, i) {
  const [first, one] = [bytes[at], bytes[at + i]];
  if ((one & 0xc0) !== 0x80) return false;
  if (i > 1) return true;
  if (first === 0xe0) return one >= 0xa0;
  if (first === 0xed) return one < 0xa0 || (bytes[at + 2] & 0xc0) === 0x80; // half of a character, if it is whole as such
  return first === 0xf0 ? one >= 0x90 : first === 0xf4 ? one < 0x90 : true;
}

function fail(bytes, start, end, reason, encoding = "utf-8") {
  const what = end - start === 1
    ? `byte 0x${bytes[start].toString(16).padStart(2, "0")} in position ${start}`
    : `bytes in position ${start}-${end - 1}`;
  throw new ValueError(`'${encoding}' codec can't decode ${what}: ${reason}`);
}
