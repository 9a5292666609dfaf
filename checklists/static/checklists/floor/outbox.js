// Sending from a page that has no person of its own (Today, End of the day): the Floor's safekeeping, to which everybody whose
// marks wait here is 'elsewhere', and nobody's facts are shown as they are recorded.

import { safekeeping } from "./safekeeping.js";
import { makeStore } from "./store.js";

/** The store that says how far it has come, and the keeping that sends once it is loaded. `staff`: `{ reference }`. */
export function outbox(staff, more = {}) {
  const store = makeStore({ server: { facts: [] }, kept: [], elsewhere: [], others: [], facts: 0, net: { kind: "ok" } });
  const config = { staff, episode: null, person: {}, addresses: {} };
  return { store, keeping: safekeeping({ config, store, refresh: async () => {}, ...more }) };
}
