// The files of a zip archive, by name. Stored and deflated members, as every zip programme writes them.

import { text } from "./bytes.js";
import { Wrong } from "./json.js";

const MOST_BYTES = 300_000_000;
const END = 0x06054b50;
const CENTRAL = 0x02014b50;
const LOCAL = 0x04034b50;

const TABLE = Uint32Array.from({ length: 256 }, (_, value) => {
  for (let bit = 0; bit < 8; bit += 1) value = value & 1 ? (value >>> 1) ^ 0xedb88320 : value >>> 1;
  return value;
});

function crc32(bytes) {
  let sum = ~0;
  for (const byte of bytes) sum = (sum >>> 8) ^ TABLE[(sum ^ byte) & 0xff];
  return ~sum >>> 0;
}

// A map of name → bytes. `name` is what the archive itself is called.
export async function filesOf(bytes, name) {
  let members;
  try {
    members = listed(bytes);
  } catch {
    throw new Wrong(`${name} cannot be read as a bundle.`);
  }
  if (new Set(members.map((member) => member.name)).size !== members.length) {
    throw new Wrong("The bundle holds two files of one name.");
  }
  if (members.reduce((sum, member) => sum + member.size, 0) > MOST_BYTES) {
    throw new Wrong("The bundle is larger than a bundle is.");
  }
  const files = new Map();
  try {
    for (const member of members) files.set(member.name, await contentOf(bytes, member));
  } catch {
    throw new Wrong(`${name} cannot be read as a bundle.`);
  }
  return files;
}

function listed(bytes) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  let end = bytes.length - 22;
  while (view.getUint32(end, true) !== END) end -= 1; // before the beginning of the file: an error, as it should be
  let place = view.getUint32(end + 16, true);
  const members = [];
  for (let left = view.getUint16(end + 10, true); left > 0; left -= 1) {
    if (view.getUint32(place, true) !== CENTRAL) throw new TypeError("no archive");
    const length = view.getUint16(place + 28, true);
    const member = {
      flags: view.getUint16(place + 8, true),
      method: view.getUint16(place + 10, true),
      crc: view.getUint32(place + 16, true),
      packed: view.getUint32(place + 20, true),
      size: view.getUint32(place + 24, true),
      at: view.getUint32(place + 42, true),
      name: text(bytes.subarray(place + 46, place + 46 + length)),
    };
    if (!member.name.endsWith("/")) members.push(member);
    place += 46 + length + view.getUint16(place + 30, true) + view.getUint16(place + 32, true);
  }
  return members;
}

async function contentOf(bytes, member) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const start = member.at + 30 + view.getUint16(member.at + 26, true) + view.getUint16(member.at + 28, true);
  const packed = bytes.subarray(start, start + member.packed);
  if (view.getUint32(member.at, true) !== LOCAL || member.flags & 1 || packed.length !== member.packed) {
    throw new TypeError("no archive");
  }
  const content = member.method === 8 ? await inflated(packed, member.size) : packed;
  if (![0, 8].includes(member.method) || content.length !== member.size || crc32(content) !== member.crc) {
    throw new TypeError("no archive");
  }
  return content;
}

// Never more than the archive said: what swells beyond it is no bundle.
async function inflated(packed, size) {
  const content = new Uint8Array(size);
  let place = 0;
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  for (const reader = stream.getReader(); ; ) {
    const { done, value } = await reader.read();
    if (done) return content.subarray(0, place);
    content.set(value, place); // beyond its end: an error
    place += value.length;
  }
}
