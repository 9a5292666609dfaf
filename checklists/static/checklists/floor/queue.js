// What was recorded, on this device (clinic/device/database.js, store `kept`): each fact a row, plain only as far as whose it is
// and how far it has come; what it says is in the box, for the key of who recorded it, and in the sealed copy, for the server.
//
// waiting: not in the server's hands · refused: not taken, with the reason, until somebody mends or drops it
// sent: in the record; stays thirty days, so that it can be sent again to a server that was put back from a backup

import { asked, within } from "../../clinic/device/database.js";
import { able, contentOf, sealedCopy } from "../../clinic/device/sealing.js";
import { lock, unlock } from "../../clinic/device/vault.js";

const SENT_FOR = 30 * 86_400_000; // milliseconds

/** A fact could not be kept on this device. `reason`: crypto (it cannot encrypt here) · full · store. */
export class NotKept extends Error {
  constructor(reason) {
    super(`not kept: ${reason}`);
    this.reason = reason;
  }
}

// A row of the store, out of one of the page: { id, staff, episode, state, at, since, entry, person, staffName, address, error,
// judged }. The sealed copy says the fact alone, which never changes: it is made once.
async function stored(row) {
  const { id, staff, episode, state, at, since, entry, person, staffName, address, error, judged } = row;
  const box = await lock({ entry, person, staffName, address, error, judged }, staff).catch(() => null);
  row.copy ??= await sealedCopy(contentOf(row), row);
  if (!box && !row.copy) throw new NotKept(able() ? "store" : "crypto");
  return { id, staff, episode, state, at, since, ...box, ...row.copy };
}

const putAll = (rows) => within("kept", "readwrite", (kept) => rows.map((row) => kept.put(row)));

/** Keep rows as they are now. Resolves when they are on the disk; else NotKept. */
export async function keep(rows) {
  try {
    const made = await Promise.all(rows.map(stored));
    await putAll(made).catch(async (fault) => {
      if (fault?.name !== "QuotaExceededError") throw fault;
      await within("pages", "readwrite", (pages) => pages.clear()); // these can be had again; a fact cannot
      await putAll(made);
    });
  } catch (fault) {
    if (fault instanceof NotKept) throw fault;
    throw new NotKept(fault?.name === "QuotaExceededError" ? "full" : "store");
  }
}

/** Write down how far rows have come: waiting, refused or sent. */
export function mark(rows, state, more = {}) {
  for (const row of rows) Object.assign(row, { state, since: Date.now() }, more);
  return keep(rows);
}

export const letGo = (ids) => within("kept", "readwrite", (kept) => ids.map((id) => kept.delete(id)));

async function opened(row) {
  const content = await unlock(row);
  const copy = row.sealed ? { sealed: row.sealed, sealing_key: row.sealing_key } : undefined;
  return content && { ...content, id: row.id, staff: row.staff, episode: row.episode, state: row.state, at: row.at, since: row.since, copy };
}

/**
 * Whatever is on this device and not sent: `own`, readable rows of `staff`; `sealed`, anybody's that only the server can open
 * any more.
 */
export async function unsent(staff) {
  const rows = (await within("kept", "readonly", (kept) => kept.getAll())).filter((row) => row.state !== "sent");
  const found = await Promise.all(rows.map(async (row) => [row, row.staff === staff ? await opened(row) : null]));
  return {
    own: found.map(([, own]) => own).filter(Boolean).sort((a, b) => a.at - b.at),
    sealed: found.filter(([, own]) => !own).map(([row]) => row),
  };
}

/** What was sent from this device and is still kept: `own`, to be sent again as it was; `sealed`, through the server's key. */
export async function sent(staff) {
  const rows = (await within("kept", "readonly", (kept) => kept.getAll())).filter((row) => row.state === "sent");
  const found = await Promise.all(rows.map(async (row) => [row, row.staff === staff ? await opened(row) : null]));
  return {
    own: found.map(([, own]) => own).filter(Boolean).sort((a, b) => a.at - b.at),
    sealed: found.filter(([row, own]) => !own && row.sealed).map(([row]) => row),
  };
}

/** Drop what was sent more than thirty days before `now` (milliseconds). */
export const prune = (now) =>
  within("kept", "readwrite", async (kept) => {
    const rows = await asked(kept.getAll());
    const old = rows.filter((row) => row.state === "sent" && now - row.since > SENT_FOR);
    await Promise.all(old.map((row) => asked(kept.delete(row.id))));
  });

/** Rows of the store's first version are plain: those of `staff` are encrypted, in their place. */
export async function takeOver(staff) {
  const rows = await within("kept", "readonly", (kept) => kept.getAll());
  const plain = rows.filter((row) => row.entry && row.staff === staff);
  if (!plain.length) return;
  const made = await Promise.all(plain.map((row) => stored({ ...row, at: Date.parse(row.entry.at), since: Date.now() })));
  await putAll(made);
}
