// What this device keeps is encrypted with a key that no script can read out (AES-GCM, not extractable) and that is there for
// one person at a time: whoever is signed in. It goes when they sign out, or when somebody else signs in; then pages and packs
// go too, and of what was recorded the copies stay that only the server can open (sealing.js). Page and worker use it alike.

import { asked, within } from "./database.js";
import { able, contentOf, sealedCopy } from "./sealing.js";

const AES = { name: "AES-GCM", length: 256 };
const IV_BYTES = 12;
const ALL = ["keys", "pages", "packs", "kept"];

let held = null; // the row of `keys`, once it was read

// Another page of this browser made or destroyed the key: what was read before counts no more.
const others = globalThis.BroadcastChannel ? new BroadcastChannel("vault") : null;
if (others) {
  others.onmessage = () => {
    held = null;
  };
}

function changed(row) {
  held = row;
  others?.postMessage("changed");
}

async function current() {
  if (!able()) return null;
  held ??= (await within("keys", "readonly", (keys) => keys.getAll()))[0] ?? null;
  return held;
}

/** Whose key is here; null where there is none. */
export const whose = async () => (await current())?.staff ?? null;

/**
 * The key of `staff`, made where there is none: somebody else's is destroyed first, with all that it opened. False where this
 * browser cannot encrypt.
 */
export async function open(staff) {
  if (!able()) return false;
  if ((await current())?.staff === staff) return true;
  const row = { staff, key: await crypto.subtle.generateKey(AES, false, ["encrypt", "decrypt"]), made: Date.now() };
  await sealTheRest(staff);
  const made = await within(ALL, "readwrite", async (keys, pages, packs, kept) => {
    const [there] = await asked(keys.getAll());
    if (there?.staff === staff) return there; // another page was quicker
    await emptied(keys, pages, packs, kept);
    await asked(keys.put(row));
    return row;
  });
  changed(made);
  return true;
}

/** Encrypt plain data: `{iv, box}`. Null where there is no key, or, with `staff`, none of theirs. */
export async function lock(value, staff = null) {
  const row = await current();
  if (!row || (staff && row.staff !== staff)) return null;
  const iv = crypto.getRandomValues(new Uint8Array(IV_BYTES));
  const box = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, row.key, new TextEncoder().encode(JSON.stringify(value)));
  return { iv, box };
}

/** What stands in a row that was locked; null when its key is gone, or is another. */
export async function unlock({ iv, box }) {
  const row = await current();
  if (!row || !iv || !box) return null;
  try {
    const plain = await crypto.subtle.decrypt({ name: "AES-GCM", iv }, row.key, box);
    return JSON.parse(new TextDecoder().decode(plain));
  } catch {
    return null;
  }
}

/** Destroy the key, and with it every page, pack and readable row. What was recorded stays as sealed copies. */
export async function destroy() {
  await sealTheRest();
  await within(ALL, "readwrite", (...stores) => emptied(...stores));
  changed(null);
}

async function emptied(keys, pages, packs, kept) {
  const rows = await asked(kept.getAll());
  await Promise.all([
    ...[keys, pages, packs].map((store) => asked(store.clear())),
    ...rows.map((row) => outliving(kept, row)).filter(Boolean),
  ]);
}

// A row without what the key opened. One that was sent and never sealed is nothing any more; any other stays, to be counted.
function outliving(kept, row) {
  if (!row.box) return null;
  if (!row.sealed && row.state === "sent") return asked(kept.delete(row.id));
  const { iv, box, ...rest } = row;
  return asked(kept.put(rest));
}

// Rows that were kept while the server's key was not known, and plain rows of the time before encryption, are sealed at the
// last moment; `comes`: whose plain rows are about to be encrypted instead (floor/queue.js).
async function sealTheRest(comes = null) {
  try {
    const rows = (await within("kept", "readonly", (kept) => kept.getAll())).filter((row) => !row.sealed && row.state !== "sent");
    for (const row of rows.filter((row) => !row.entry || row.staff !== comes)) {
      const content = row.entry ? row : await unlock(row);
      const copy = content && (await sealedCopy(contentOf({ ...content, episode: row.episode }), row));
      if (copy) await within("kept", "readwrite", (kept) => put(kept, row, copy));
    }
  } catch {
    // The store or the server's key is not to be had: the key goes all the same, which is what was asked for.
  }
}

// Of a plain row (version 1 of the store) nothing readable is left beside the copy.
async function put(kept, row, copy) {
  const there = await asked(kept.get(row.id));
  if (!there || there.sealed) return;
  const { entry, person, staffName, address, error, ...rest } = there;
  await asked(kept.put({ ...rest, ...copy, at: there.at ?? Date.now(), since: there.since ?? Date.now() }));
}

/** How many facts would be lost if the key went now: those that wait and have no sealed copy, nor can get one. */
export async function unsealed() {
  await sealTheRest();
  const rows = await within("kept", "readonly", (kept) => kept.getAll());
  return rows.filter((row) => row.box && !row.sealed && row.state !== "sent").length;
}
