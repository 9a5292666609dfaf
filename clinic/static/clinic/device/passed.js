// Sealed copies whose key is gone from this device are brought to the server by whoever is signed in next, unread: it keeps them
// for their author, who records them under their own name (/waiting/). The device forgets a copy when the server says it has it.

import { call } from "./call.js";
import { within } from "./database.js";
import { parted } from "./sealing.js";
import { whose } from "./vault.js";

const ADDRESS = "/api/v1/sealed/";
const AT_ONCE = 50;

/** Rows that only the server can open: not `staff`'s own readable ones. */
async function closed(staff, state) {
  const rows = await within("kept", "readonly", (kept) => kept.getAll());
  const readable = (row) => (row.entry && row.staff === staff) || (row.box && row.staff === staff);
  const wanted = state === "sent" ? (row) => row.state === "sent" : (row) => row.state !== "sent";
  return rows.filter((row) => wanted(row) && !readable(row));
}

/**
 * Bring them. `again`: also those that were sent before, after the server was put back. Answers `passed`, what the server has
 * taken for its authors, and `left`, what is still here and not readable: rows of the store; `names` of the authors, by their
 * references, as far as they are this reader's to know.
 */
export async function passOn(staff, { again = false } = {}) {
  const passed = [];
  const names = {};
  try {
    const owner = await whose();
    if (owner && owner !== staff) return { passed, names, left: [] }; // somebody else is signed in by now: theirs to do
    const rows = [...(await closed(staff, "waiting")), ...(again ? await closed(staff, "sent") : [])].filter((row) => row.sealed);
    for (let from = 0; from < rows.length; from += AT_ONCE) {
      const batch = rows.slice(from, from + AT_ONCE);
      const marks = batch.map(({ id, staff: author, sealing_key: key, sealed }) => ({ id, staff: author, key, ...parted(sealed) }));
      const { kind, answer } = await call(ADDRESS, { marks });
      if (kind !== "ok") break;
      Object.assign(names, answer.authors);
      const outcomes = new Map(answer.verdicts.map(({ id, outcome }) => [id, outcome]));
      const done = batch.filter((row) => ["kept", "known"].includes(outcomes.get(row.id)));
      passed.push(...done.filter((row) => outcomes.get(row.id) === "kept"));
      const gone = done.filter((row) => row.state !== "sent").map((row) => row.id);
      await within("kept", "readwrite", (kept) => gone.map((id) => kept.delete(id)));
    }
    return { passed, names, left: await closed(staff, "waiting") };
  } catch {
    return { passed, names, left: [] }; // no store: nothing of anybody's is here
  }
}
