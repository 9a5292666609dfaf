// A copy of each fact that only the server can open, and only for its author: it outlives the key of this device. What it is
// bound to (which fact, whose) goes into the sealing itself, so that nobody can hang it on another name.

import { note, putNote } from "./database.js";
import { joined, seal } from "./hpke.js";

const PURPOSE = "gym mark 1";
const NOTE = "sealing";

/** Whether this browser can encrypt at all: it cannot where the address is neither HTTPS nor the device itself. */
export const able = () => Boolean(globalThis.crypto?.subtle);

const bytesOf = (base64) => Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
export const base64Of = (bytes) => btoa(Array.from(bytes, (one) => String.fromCharCode(one)).join(""));

// "name base64": the server's newest key, which every page of somebody signed in brings along.
const brought = () => globalThis.document?.body?.dataset.seal ?? "";

/** Write the server's key down for pages and workers that do not bring it. */
export async function keepSealingKey() {
  if (brought()) await putNote(NOTE, brought());
}

async function sealingKey() {
  const said = brought() || (await note(NOTE, ""));
  const [name, point] = said.split(" ");
  return point ? { name, point: bytesOf(point) } : null;
}

/**
 * `content` (plain data) sealed as the fact `id` of `staff`: `{sealed, sealing_key}`, the encapsulated key and then the box.
 * Null where it cannot be: no such browser, or no key of the server's known.
 */
export async function sealedCopy(content, { id, staff }) {
  if (!able()) return null;
  const key = await sealingKey().catch(() => null);
  if (!key) return null;
  const info = new TextEncoder().encode([PURPOSE, id, staff].join("\n"));
  const { enc, box } = await seal(key.point, new TextEncoder().encode(JSON.stringify(content)), { info });
  return { sealed: joined(enc, box), sealing_key: key.name };
}

/** The two parts of a sealed copy, as they travel. */
export const parted = (sealed) => ({ enc: base64Of(sealed.slice(0, 65)), box: base64Of(sealed.slice(65)) });

/** What of a kept row is sealed: the fact, whose record it belongs to, and what this device had judged. */
export const contentOf = ({ entry, episode, judged }) => ({ entry, episode, ...(judged ? { judged } : {}) });
