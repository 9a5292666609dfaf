// Packs: a person's record and protocol as this device keeps them, encrypted with the key of whoever is signed in. Without the
// store everything works as long as the page lives.

import { call } from "../../clinic/device/call.js";
import { within } from "../../clinic/device/database.js";
import * as vault from "../../clinic/device/vault.js";

const KEPT_HOURS = 12; // as long as a session: what is older is asked for anew, and not shown

/**
 * @param {string} episode
 * @param {string} staff whose
 * @returns {Promise<{pack: object, kept_at: number} | null>} the pack as `keep` took it; null where there is none to be read
 */
export async function stored(episode, staff) {
  try {
    const row = await within("packs", "readonly", (packs) => packs.get(episode));
    if (!row || row.staff !== staff || Date.now() - row.kept_at > KEPT_HOURS * 3_600_000) return null;
    const pack = await vault.unlock(row);
    return pack && { pack, kept_at: row.kept_at };
  } catch {
    return null;
  }
}

/** Facts that were sent from here since an instant (milliseconds): the server has them, and the pack may not. */
export async function sentSince(episode, staff, instant) {
  try {
    const rows = await within("kept", "readonly", (kept) => kept.index("owner").getAll([staff, episode]));
    const sent = rows.filter((row) => row.state === "sent" && row.since >= instant);
    const found = await Promise.all(sent.map((row) => vault.unlock(row)));
    return found.flatMap((content) => content?.entry ?? []);
  } catch {
    return [];
  }
}

/** Keep a pack; resolves to whether it is on the device. */
export async function keep(pack, staff) {
  try {
    const locked = (await vault.open(staff)) && (await vault.lock(pack, staff));
    if (!locked) return false;
    const row = { episode: pack.episode, staff, kept_at: Date.now(), ...locked };
    await within("packs", "readwrite", (packs) => packs.put(row), { durability: "relaxed" });
    return true;
  } catch {
    return false;
  }
}

/**
 * Ask the server for what came since a pack, or for all of it.
 * @param {string} address
 * @param {{number: number, protocol: {digest: string}} | null} have
 * @returns {Promise<{kind: string, pack?: object}>} a whole pack where another protocol counts by now
 */
export async function fetched(address, have) {
  const since = have ? `?since=${have.number}&protocol=${have.protocol.digest}` : "";
  const { kind, answer, sentence } = await call(`${address}${since}`);
  if (kind !== "ok") return { kind, sentence };
  if (have && answer.protocol.digest !== have.protocol.digest) return fetched(address, null);
  return { kind, pack: answer };
}

/** Take it off the device. */
export const forget = (episode) => within("packs", "readwrite", (packs) => packs.delete(episode)).catch(() => {});
