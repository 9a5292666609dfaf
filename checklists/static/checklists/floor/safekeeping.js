// Between a tap and the server: keeps each fact until it is known what became of it. Facts of a colleague who used this device
// before are theirs alone: their sealed copies are passed on for them (clinic/device/leave.js), since the server records a fact
// under the name of who sends it.

import { lasting } from "../../clinic/device/lasting.js";
import { passOn } from "../../clinic/device/passed.js";
import { open } from "../../clinic/device/vault.js";
import { now, onLearned, recall } from "./clock.js";
import { inOrder } from "./entries.js";
import * as queue from "./queue.js";
import { makeSender } from "./sender.js";

const SOON = 50; // milliseconds: a fact stands in the list when it is on the disk, or after this
const ROOM_AGAIN = 5000; // milliseconds until a disk that was full is tried again

// `passes`: whether sealed copies of whoever was here before are this page's to pass on, and not clinic/device/leave.js's.
export function safekeeping({ config, store, refresh, isNews = () => true, passes = true }) {
  const { staff } = config;
  store.set({ queue: "unread" }); // what waits on this device: unread · read · closed, where its store cannot be read
  const mine = () => store.get().kept;
  const elsewhere = () => store.get().elsewhere; // one's own facts of other people, left from an earlier page
  const changed = (patch = {}) => store.set({ kept: [...mine()], elsewhere: [...elsewhere()], ...patch });

  const sender = makeSender({
    next() {
      const rows = [...elsewhere(), ...mine()].filter((row) => row.state === "waiting" && !row.underWay);
      return rows.filter((row) => row.address === rows[0]?.address).sort((a, b) => inOrder(a.entry, b.entry));
    },
    async settle(rows, { verdicts, raised }) {
      const of = new Map(verdicts.map((verdict, index) => [rows[index]?.id, verdict]));
      const refused = rows.filter((row) => of.get(row.id)?.outcome === "refused");
      const taken = rows.filter((row) => of.has(row.id) && of.get(row.id).outcome !== "refused");
      for (const row of refused) row.error = of.get(row.id).error;
      await marked(refused, "refused");
      await marked(taken, "sent");
      for (const row of taken) row.state = of.get(row.id).outcome;
      const gone = new Set(taken.map((row) => row.id));
      const here = rows[0].address === config.addresses.entries; // of somebody else: it stands in Alerts, under their name
      const alerts = here ? raised.filter(isNews) : []; // what this device has said is not said again
      changed({ net: { kind: "ok" }, elsewhere: elsewhere().filter((row) => !gone.has(row.id)), ...(alerts.length ? { alerts } : {}) });
      await refresh();
      const known = new Set(store.get().server.facts.map((fact) => fact.entry.id));
      store.set({ kept: mine().filter((row) => ["waiting", "refused"].includes(row.state) || !known.has(row.id)) });
    },
    async failed(kind, sentence, rows) {
      if (kind === "refused") {
        for (const row of rows) row.error = sentence;
        await marked(rows, "refused");
      }
      changed({ net: { kind, sentence } });
    },
  });

  // What cannot be written down as sent or refused stays on the device as waiting: it is sent again and answered the same.
  const marked = (rows, state) => (rows.length ? queue.mark(rows, state).then(() => said(rows, null), () => {}) : null);

  let later; // when what is in this page only is tried again

  // `onDisk`: not yet known (null), or whether; `unkept`: why something is in this page only.
  function said(rows, fault) {
    for (const row of rows) Object.assign(row, { underWay: false, early: false, onDisk: !fault });
    const left = unwritten();
    changed({ unkept: left.length ? (fault?.reason ?? store.get().unkept) : null });
    clearTimeout(later);
    if (left.length) later = setTimeout(() => kept([]), ROOM_AGAIN);
  }

  const unwritten = () => [...mine(), ...elsewhere()].filter((row) => row.state === "waiting" && row.onDisk === false);

  async function kept(rows) {
    const again = unwritten().filter((row) => !rows.includes(row)); // there may be room now
    if (!rows.length && !again.length) return;
    await queue.keep([...rows, ...again]).then(() => said([...rows, ...again], null), (fault) => said(rows, fault));
  }

  // What is in this page only is lost with it: the browser asks before it goes.
  addEventListener("beforeunload", (event) => store.get().unkept && event.preventDefault());
  onLearned((error) => store.set({ clockError: error }));

  // Sealed copies: of whoever was here before, and one's own whose key is gone.
  async function handOn() {
    if (!passes) return;
    const { passed, left } = await passOn(staff.reference);
    store.set({ others: left, waitForMe: (store.get().waitForMe ?? 0) + passed.filter((mark) => mark.staff === staff.reference).length });
  }

  return {
    /** Keep facts that were just made. `judged`: what this device said of each, in the same order. */
    async take(entries, judged = []) {
      const rows = entries.map((entry, index) => ({
        id: entry.id, entry, staff: staff.reference, staffName: staff.name, episode: config.episode, person: config.person.name,
        address: config.addresses.entries, state: "waiting", error: null, judged: judged[index] ?? null, at: Date.now(), since: Date.now(),
        underWay: true, early: true, onDisk: null,
      }));
      const late = setTimeout(() => {
        for (const row of rows) row.early = false;
        changed();
      }, SOON);
      store.set({ kept: [...mine(), ...rows], facts: store.get().facts + rows.length });
      await kept(rows);
      clearTimeout(late);
      sender.kick();
    },
    async load() {
      await recall();
      lasting().then((lasts) => store.set({ lasts })); // asked: what is here should stay when the disk is full
      const key = await open(staff.reference).catch(() => null);
      if (key) await queue.takeOver(staff.reference).catch(() => {}); // they stay as they are until it can be done
      await queue.prune(now().getTime()).catch(() => {});
      const found = await queue.unsent(staff.reference).catch(() => null);
      const { own, sealed } = found ?? { own: [], sealed: [] };
      const here = own.filter((row) => row.episode === config.episode && !mine().some((one) => one.id === row.id));
      store.set({ kept: [...here, ...mine()], elsewhere: own.filter((row) => row.episode !== config.episode), others: sealed, queue: found ? "read" : "closed" });
      sender.kick();
      handOn();
    },
    /** Not to be recorded: mended, or dropped after a question (mend.js). */
    async seen(id) {
      await queue.letGo([id]).catch(() => {});
      store.set({ kept: mine().filter((row) => row.id !== id), elsewhere: elsewhere().filter((row) => row.id !== id) });
    },
    retry() {
      sender.kick();
      handOn();
    },
    busy: () => sender.busy() || mine().some((row) => row.state === "waiting"),
    /** After the server was put back from a backup: what was sent from here goes again, with the same ids. */
    async again() {
      const { own } = await queue.sent(staff.reference);
      await queue.mark(own, "waiting");
      store.set({ elsewhere: [...elsewhere(), ...own] });
      sender.kick();
      const { passed } = await passOn(staff.reference, { again: true });
      return own.length + passed.length;
    },
  };
}
