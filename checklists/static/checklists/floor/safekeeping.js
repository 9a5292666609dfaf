// Between a tap and the server: keeps each fact until it is known what became of it. Facts of a colleague who used this device
// before wait for that colleague's sign-in, since the server records a fact under the name of who sends it.

import * as queue from "./queue.js";
import { makeSender } from "./sender.js";

export function safekeeping({ config, store, refresh }) {
  const { staff } = config;
  const mine = () => store.get().kept;
  const elsewhere = () => store.get().elsewhere; // one's own facts of other people, left from an earlier page

  const sender = makeSender({
    next() {
      const rows = [...elsewhere(), ...mine()].filter((row) => row.state === "waiting");
      return rows.filter((row) => row.address === rows[0]?.address);
    },
    async settle(rows, { verdicts }) {
      const of = new Map(verdicts.map((verdict, index) => [rows[index].id, verdict]));
      const refused = rows.filter((row) => of.get(row.id)?.outcome === "refused");
      for (const row of refused) Object.assign(row, { state: "refused", error: of.get(row.id).error });
      await queue.keep(refused).catch(() => {});
      const gone = rows.filter((row) => of.has(row.id) && of.get(row.id).outcome !== "refused").map((row) => row.id);
      await queue.letGo(gone).catch(() => {});
      for (const row of mine()) if (gone.includes(row.id)) row.state = of.get(row.id).outcome;
      const alerts = verdicts.flatMap((verdict) => verdict.alerts ?? []);
      store.set({ net: { kind: "ok" }, kept: [...mine()], elsewhere: elsewhere().filter((row) => !gone.includes(row.id)), ...(alerts.length ? { alerts } : {}) });
      await refresh();
      const known = new Set(store.get().server.facts.map((fact) => fact.entry.id));
      store.set({ kept: mine().filter((row) => ["waiting", "refused"].includes(row.state) || !known.has(row.id)) });
    },
    async failed(kind, sentence, rows) {
      if (kind === "refused") {
        for (const row of rows) Object.assign(row, { state: "refused", error: sentence });
        await queue.keep(rows).catch(() => {});
      }
      store.set({ net: { kind, sentence }, kept: [...mine()] });
    },
  });

  return {
    async take(entries) {
      const rows = entries.map((entry) => ({
        id: entry.id, entry, staff: staff.reference, staffName: staff.name, episode: config.episode,
        person: config.person.name, address: config.addresses.entries, state: "waiting", error: null,
      }));
      store.set({ kept: [...mine(), ...rows], facts: store.get().facts + rows.length });
      await queue.keep(rows).catch(() => store.set({ unkept: true }));
      sender.kick();
    },
    async load() {
      const rows = await queue.everything().catch(() => []);
      const own = rows.filter((row) => row.staff === staff.reference);
      const here = own.filter((row) => row.episode === config.episode && !mine().some((kept) => kept.id === row.id));
      store.set({
        kept: [...here, ...mine()],
        elsewhere: own.filter((row) => row.episode !== config.episode),
        others: rows.filter((row) => row.staff !== staff.reference),
      });
      sender.kick();
    },
    async seen(id) {
      await queue.letGo([id]).catch(() => {});
      store.set({ kept: mine().filter((row) => row.id !== id) });
    },
    retry: () => sender.kick(),
    busy: () => sender.busy() || mine().some((row) => row.state === "waiting"),
  };
}
