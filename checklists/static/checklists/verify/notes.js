// Signed checkpoints (C2SP signed-note, tlog-checkpoint) and the ring of the keys that sign them.

import { base64, equal, hex, joined, sha, text, unbase64, utf8 } from "./bytes.js";
import { Wrong, parse } from "./json.js";

const FORMAT = 1;

async function verifies(key, signature, body) {
  const imported = await crypto.subtle.importKey("raw", key, { name: "Ed25519" }, false, ["verify"]);
  return crypto.subtle.verify({ name: "Ed25519" }, imported, signature, body);
}

const NOTE = /^\S+\n[0-9]+\n[A-Za-z0-9+/=]+\nat [0-9T:.-]+Z\n\n(?:— \S+ [A-Za-z0-9+/=]+\n)+/m;

// The first checkpoint in a text that may hold more (an e-mail, say); the text itself where there is none.
export function noteIn(given) {
  const whole = given.replaceAll("\r\n", "\n");
  return NOTE.exec(whole.endsWith("\n") ? whole : `${whole}\n`)?.[0] ?? whole;
}

// The text of a note, and which of the keys signed it. A known key's signature that does not fit spoils it all.
export async function signedBy(note, origin, keys) {
  const gap = note.lastIndexOf("\n\n");
  const lines = note.slice(gap + 2);
  if (gap < 0 || !lines.endsWith("\n") || /[\x00-\x09\x0b-\x1f]/.test(note)) throw new Wrong("no signed note");
  const body = note.slice(0, gap) + "\n";
  const known = new Map();
  for (const key of keys) known.set(hex((await sha(joined(utf8(`${origin}\n`), Uint8Array.of(1), key))).slice(0, 4)), key);
  const found = [];
  for (const line of lines.slice(0, -1).split("\n")) {
    const read = /^— ([^\s+]+) ([A-Za-z0-9+/]+={0,2})$/.exec(line);
    const value = read ? unbase64(read[2]) : new Uint8Array();
    if (!read || value.length < 5) throw new Wrong("no signed note");
    const key = read[1] === origin ? known.get(hex(value.slice(0, 4))) : undefined;
    if (key === undefined) continue;
    if (!(await verifies(key, value.slice(4), utf8(body)))) throw new Wrong("a signature that does not fit");
    found.push(key);
  }
  return { body, found };
}

// The checkpoint in a note, signed by a key of the ring that is good for its size.
export async function opened(note, ring) {
  const { body, found } = await signedBy(note, ring.origin, ring.keys.map((key) => key.key));
  const read = /^([^\s+]+)\n(0|[1-9][0-9]{0,18})\n([A-Za-z0-9+/=]+)\nat ([0-9T:.-]+Z)\n$/.exec(body);
  if (!read || read[1] !== ring.origin || unbase64(read[3]).length !== 32) throw new Wrong("no checkpoint of this ledger");
  const size = Number(read[2]);
  if (!ring.keys.some((key) => goodFor(key, size) && found.some((one) => equal(one, key.key)))) {
    throw new Wrong("no key that is good for this size has signed");
  }
  return { size, root: unbase64(read[3]), at: read[4] };
}

// Whether a key's signature counts for a ledger of this size: not before it began, not after it was closed.
function goodFor(key, size) {
  return key.first <= size && (key.last === null || size <= key.last);
}

// The public keys, each introduced by the one before it, each closing signed by a later one.
export async function readRing(file) {
  const said = parse(text(file));
  const keys = said.keys.map(({ fingerprint, public: written, first, last, introduction, closing }) =>
    ({ fingerprint, written, first, last, introduction, closing, key: unbase64(written) }));
  const ring = { origin: said.origin, keys };
  if (said.format !== FORMAT || !keys.length || new Set(keys.map((key) => key.written)).size !== keys.length) {
    throw new Wrong("no key ring");
  }
  for (const [place, key] of keys.entries()) {
    if (key.key.length !== 32 || hex(await sha(key.key)) !== key.fingerprint) throw new Wrong("a key that does not fit");
    if (![key.first, key.last ?? 0].every(Number.isSafeInteger)) throw new Wrong("a size that is no number");
    if (place) {
      const size = `from size ${key.first}`;
      await link(ring, key, [key.introduction, "key introduced", size], keys.slice(place - 1, place), true);
    } else if (key.first || key.introduction) {
      throw new Wrong("a first key that does not begin at the beginning");
    }
    if (key.closing || key.last !== null) {
      await link(ring, key, [key.closing, "key closed", `at size ${key.last}`], keys.slice(place + 1), false);
    }
  }
  return ring;
}

// One of the others has signed this statement about a key, and the key itself too where it must be both.
async function link(ring, key, [statement, what, size], others, both) {
  for (const other of others) {
    const wanted = `${ring.origin}\n${what}\nkey ${base64(key.key)}\nby ${base64(other.key)}\n${size}\nat `;
    if (!statement.startsWith(wanted)) continue;
    const signers = both ? [other.key, key.key] : [other.key];
    const { body, found } = await signedBy(statement, ring.origin, signers);
    const all = signers.every((signer) => found.some((one) => equal(one, signer)));
    if (all && /^[0-9T:.-]+Z\n$/.test(body.slice(wanted.length))) return;
  }
  throw new Wrong("a key whose link to the others does not hold");
}
