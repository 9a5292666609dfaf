// This person's record on this device: begun from the device's store, carried on by what is recorded here, and brought up to
// date by the server whenever it answers. What somebody else has added is said.

import { fill, gettext, ngettext } from "../../clinic/js/gettext.js";
import { learn, now } from "./clock.js";
import { localCore } from "./local.js";
import { fetched, keep, sentSince, stored } from "./packs.js";

const LOST = new Set(["refused", "held"]); // not taken by the server, or not yet: no fact of the record

export function recordCopy({ config, store, words }) {
  const { staff, episode, addresses } = config;
  let core = null;
  const told = new Set(); // alerts that were shown
  const nameOf = ({ rule, entry }) => `${rule} ${entry}`;
  const early = new Set(); // facts that were recorded on this page before there was a copy: nothing was said of them yet
  let first = true; // nothing that the first answer brings is news: the page had no older list to compare it with

  // Returns what is to be said of what was recorded before it began.
  function begin(pack) {
    core = localCore(pack, staff, now);
    core.hold(config.state.facts.map((fact) => fact.entry));
    const rows = store.get().kept.filter((row) => !LOST.has(row.state));
    const judged = core.take(rows.map((row) => row.entry));
    return alarmed(judged.filter((_, at) => early.delete(rows[at].id)));
  }

  // What was said of broken rules, in words, as a patch of the page's state.
  function alarmed(judged) {
    const alerts = judged.flatMap((one) => one?.alerts ?? []).map((alert) => core.alert(alert));
    for (const alert of alerts) told.add(nameOf(alert));
    return alerts.length ? { alerts } : {};
  }

  function tell(patch = {}) {
    if (core) store.set({ server: core.told(), local: true, ...patch });
  }

  // What the server does not take is out of the fold as soon as it is known.
  store.on((state) => {
    const lost = state.kept.filter((row) => LOST.has(row.state)).map((row) => row.id);
    if (core && lost.length && core.without(lost)) queueMicrotask(tell);
  });

  function said(news) {
    const names = [...new Set(news.map((fact) => core.nameOf(fact.by)))].join(", ");
    const { head } = words.fact(news.at(-1));
    if (news.length === 1) return fill(gettext("{name} recorded: {mark}."), { name: names, mark: head });
    return fill(ngettext("{n} mark of {name} was added.", "{n} marks of {name} were added.", news.length), { n: news.length, name: names });
  }

  return {
    /** What stands on the device is shown before the server has said a word. */
    async load() {
      const found = await stored(episode, staff.reference);
      if (!found) return;
      const broken = begin(found.pack);
      core.take(await sentSince(episode, staff.reference, found.kept_at));
      tell(broken);
    },

    /** Ask the server what it has besides. `kind` as sender.js says it. */
    async refresh() {
      const sent = Date.now();
      const { kind, pack } = await fetched(addresses.pack, core && { number: core.number, protocol: { digest: core.digest } });
      if (kind !== "ok") return { kind };
      learn(pack.now, sent, Date.now());
      const whole = !core || pack.protocol.document;
      const broken = whole ? begin(pack) : {};
      const news = whole ? [] : core.bring(pack);
      tell({ ...broken, ...(news.length && !first ? { said: said(news) } : {}) });
      if (whole || pack.entries.length) keep(core.pack, staff.reference);
      first = false;
      return { kind };
    },

    tell,

    /** Facts that are recorded now: what the core says of each (local.js, take); nothing where there is no copy. */
    take(made) {
      if (core) return core.take(made);
      for (const { id } of made) early.add(id);
      return made.map(() => null);
    },

    /** What take() said of broken rules, in words, as a patch of the page's state: what to do now is not left to the server. */
    alarmed,

    /** Whether an alert of the server's was not said here before. */
    isNews: (alert) => !told.has(nameOf(alert)),

    /** How an attempt as it is chosen would stand to the evidence; what the advice said before it, where there is no copy. */
    counted: (chosen, advised) => (core ? core.counted(chosen) : advised),

    /** Whether striking a fact out is told in Alerts; false where there is no copy to ask. */
    isDanger: (id) => Boolean(core?.isDanger(id)),

    /** Advice for a skill; null where there is no copy to ask. */
    advise: (skill) => (core ? core.advise(skill) : null),
  };
}
