// The record of one person on this device: what the server has said of it and what was recorded here since, folded by the very
// core that judges it on the server (../core/core.js). State and advice come from here, with a network and without one.

import { adviceFor, BUILTIN_RULES, EntryRefused, Episode, floorState, loadProtocol, parseEntry, StaleSnapshot } from "../core/core.js";
import { compareEntries } from "../core/entry.js";
import * as instant from "../core/instant.js";
import { asJson } from "../core/values.js";
import { asKept, grown } from "./fold.js";
import { Known } from "./known.js";
import { dayBegan, written } from "./zone.js";

const VERSION = "1"; // of the core, beside what it judged
const OF_A_MODE = new Set(["mode_set", "mode_checked", "check"]);

class LocalCore {
  #pack;
  #staff;
  #protocol;
  #names;
  #known; // what the record has
  #fold = null; // { snapshot, covers }: a fold of the server's, and how many of the entries are in it
  #later = []; // facts of the record that came after it
  #pending = new Map(); // id → { fact, entry }: what the record does not have yet, as far as this device has heard
  #alerts = new Set(); // alerts that the fold has given, as text: of the whole record, or of what came after the snapshot
  #heard = false; // whether those are of the whole record
  #episode = null;
  #was = new Map(); // what `#before` has found
  #now;

  constructor(pack, staff, now) {
    this.#staff = staff;
    this.#now = now;
    this.#protocol = loadProtocol(pack.protocol.document);
    this.#names = new Map([[staff.reference, staff.name], ...Object.entries(pack.names)]);
    this.#pack = asKept(pack, now());
    const { entries, fold } = this.#pack;
    if (fold && this.#restored(fold)) {
      this.#fold = fold;
      this.#known = new Known(this.#protocol, entries, fold.from);
      this.#later = this.#known.recent.slice(fold.covers - fold.from);
    } else {
      this.#known = new Known(this.#protocol, entries, 0);
    }
    if (!this.#fold || this.#later.length) this.#replay();
  }

  // Taken up from a snapshot. The deadlines that it shows as missed were said when it was made.
  #restored({ snapshot }) {
    try {
      this.#episode = Episode.restore(this.#protocol, snapshot);
    } catch (fault) {
      if (fault instanceof StaleSnapshot) return false; // of another version of the core
      throw fault;
    }
    const last = this.#episode.at === null ? 0 : instant.of(this.#episode.at)[0];
    this.#news(this.#episode.deadlines().filter((one) => one.dueUs < last));
    return true;
  }

  /** The number of the last entry that the server has sent, and the digest of the protocol. */
  get number() {
    return this.#pack.number;
  }

  get digest() {
    return this.#pack.protocol.digest;
  }

  /** The pack as it stands now, to be kept on this device. */
  get pack() {
    return { ...this.#pack, names: Object.fromEntries(this.#names) };
  }

  nameOf(by) {
    return this.#names.get(by) ?? by;
  }

  /**
   * What the server has besides: a pack since the last one.
   * @param {{number: number, role: string | null, names: object, entries: string[]}} more
   * @returns {object[]} the facts that were not here
   */
  bring(more) {
    for (const [by, name] of Object.entries(more.names)) this.#names.set(by, name);
    this.#pack = grown(this.#pack, more, this.#now());
    const found = [];
    let changed = false;
    for (const one of this.#known.bring(more.entries)) {
      this.#later.push(one);
      const mine = this.#pending.get(one.fact.id);
      this.#pending.delete(one.fact.id);
      if (mine) changed ||= !mine.entry || mine.fact.role !== one.fact.role || mine.fact.by !== one.fact.by;
      else found.push(one);
    }
    this.#goOn(found, changed);
    return found.map((one) => one.fact);
  }

  /** Facts of the record that came with the page, before the pack had them. */
  hold(facts) {
    const news = facts.filter((fact) => !this.#has(fact.id)).map((fact) => ({ fact, entry: parseEntry(fact, this.#protocol) }));
    for (const one of news) this.#pending.set(one.fact.id, one);
    this.#goOn(news);
  }

  #goOn(ones, changed = false) {
    const inTime = [...ones].sort((a, b) => compareEntries(a.entry, b.entry));
    if (changed || !inTime.every((one) => this.#appended(one.entry))) this.#replay();
  }

  #has(id) {
    return this.#pending.has(id) || this.#known.has(id);
  }

  /**
   * Facts that were recorded here. What was said of each, as it travels with it: after which fact of the server and with which
   * before it, under which roles all these, what it broke.
   * @param {object[]} facts as they wait to be sent
   * @returns {({after: number, with: string[], roles: (string | null)[], alerts: [string, string, string][], core: string}
   *   | null)[]} null: known already, or not to be read here, so that nothing was said of it
   */
  take(facts) {
    return facts.map((fact) => {
      if (this.#has(fact.id)) return null;
      const before = [...this.#pending.values()].filter((one) => one.entry);
      const { role } = this.#pack;
      const whole = { ...fact, by: this.#staff.reference, episode: this.#pack.reference, ...(role ? { role } : {}) };
      const entry = this.#received(whole);
      this.#pending.set(fact.id, { fact: whole, entry });
      if (!entry) return null;
      const alerts = this.#appended(entry) ?? this.#replay(fact.id);
      return {
        after: this.number, with: before.map((one) => one.fact.id), roles: [...before.map((one) => one.fact.role ?? null), role],
        alerts: alerts.map((one) => [one.rule, one.entry, one.severity]), core: VERSION,
      };
    });
  }

  /** These were not taken by the server: they are no facts of the record. */
  without(ids) {
    const gone = ids.filter((id) => this.#pending.delete(id));
    if (gone.length) this.#replay();
    return gone.length > 0;
  }

  /** The state that the page works with (../core/state.js). */
  told() {
    const since = dayBegan(this.#now(), this.#pack.zone);
    const facts = [...this.#known.recent, ...this.#pending.values()].map((one) => one.fact);
    const state = floorState(this.#episode, { at: this.#at(), since, facts, names: this.#names });
    const knees = state.knees.map((knee, side) => ({ ...knee, before: this.#before(knee, side) }));
    return { ...state, ...this.#theirs(state.next), knees };
  }

  // Which of the next steps an assistant may take, and which skills are closed to one: the twin of `_theirs` in
  // checklists/floor/state.py.
  #theirs(steps) {
    const { role } = this.#pack;
    if (role !== "assistant") return {};
    const next = steps.map((step) => {
      const first = new Set(step.first.map((one) => one.rule));
      const given = this.#episode.advise(asJson({ skill: step.skill, support: step.support, help: step.help }), { at: this.#at(), role });
      return { ...step, theirs: given.breaks.every((one) => first.has(one.rule)) };
    });
    return { next, led: this.#episode.closedTo(role, this.#at()) };
  }

  // The mode that a knee had before the one that is not proven yet: which check proves it depends on that. Null: not known.
  #before({ mode, proof, at }, side) {
    if (!mode || proof === "proven") return null;
    const key = `${side} ${mode} ${at}`;
    if (!this.#was.has(key)) this.#was.set(key, this.#lastOther(mode, side));
    return this.#was.get(key);
  }

  #lastOther(mode, side) {
    const since = instant.of(dayBegan(this.#now(), this.#pack.zone))[0];
    const today = this.#otherMode([...this.#known.recent, ...this.#pending.values()], mode, side);
    if (today && today.atUs >= since) return today.mode;
    return this.#otherMode([...this.#known.all, ...this.#pending.values()], mode, side)?.mode ?? null;
  }

  // The last thing among these that gave the knee another mode, and when.
  #otherMode(ones, mode, side) {
    const struck = new Set(ones.map(({ fact }) => fact.kind === "struck_out" && fact.entry));
    const events = ones
      .filter(({ fact }) => OF_A_MODE.has(fact.kind) && !struck.has(fact.id)).map((one) => one.entry).filter(Boolean)
      .map((entry) => ({ entry, event: this.#protocol.compiled.facts(entry.shape, Number(this.#episode.both)).mode }))
      .filter(({ event }) => event?.mode && event.mode !== mode && (event.knees >> side) & 1);
    const last = events.sort((a, b) => compareEntries(a.entry, b.entry)).at(-1);
    return last ? { mode: last.event.mode, atUs: last.entry.atUs } : null;
  }

  async state() {
    return { kind: "ok", state: this.told() };
  }

  /** {rung: {help: {allowed, breaks, counted}}} for a skill, with what is `waiting` besides; null: no such skill. */
  advise(skill, waiting = []) {
    this.take(waiting);
    return adviceFor(this.#episode, skill, { at: this.#at(), role: this.#pack.role });
  }

  /** How an attempt as it is chosen would stand to the evidence (../core/counted.js), with the faults and numbers seen so far. */
  counted({ skill, support, help, deviations, measures }) {
    return this.#episode.advise(asJson({ skill, support, help, deviations, measures }), { at: this.#at(), role: this.#pack.role }).counted;
  }

  /** What take() said of a broken rule, in words. */
  alert([rule, entry, severity]) {
    const { sentence, doNow } = this.#protocol.rules.get(rule) ?? BUILTIN_RULES.get(rule);
    return { rule, entry, severity, sentence, do_now: doNow };
  }

  /** Whether striking out a fact of today, by its id, is told in Alerts: it is the record of a danger. */
  isDanger(id) {
    const one = this.#pending.get(id) ?? this.#known.recent.find(({ fact }) => fact.id === id);
    return Boolean(one?.entry && this.#protocol.compiled.facts(one.entry.shape, Number(this.#episode.both)).dangerous);
  }

  #at() {
    return written(this.#now(), this.#pack.zone);
  }

  // As the server would read it on arrival; null where it would refuse it.
  #received(fact) {
    try {
      return parseEntry(fact, this.#protocol, { now: this.#at(), both: this.#episode.both });
    } catch (fault) {
      if (fault instanceof EntryRefused) return null;
      throw fault;
    }
  }

  // One step further: what it breaks; null where only a replay gives the right answer.
  #appended(entry) {
    return this.#episode.takes(entry) ? this.#news(this.#episode.append(entry)) : null;
  }

  // A strike-out, a fact that is gone, a late fact: what came after the snapshot is folded anew, or the whole record where that is
  // not enough. The alerts that were not given before, but for `fact` (an id), which is new.
  #replay(fact = null) {
    const came = [...this.#later, ...this.#pending.values()].flatMap((one) => one.entry ?? []);
    const after = this.#fold && !this.#heard && Episode.goOn(this.#protocol, this.#fold.snapshot, came);
    if (!after && fact !== null && !this.#heard) this.#hear(this.#whole(fact));
    const { episode, alerts } = after || this.#whole();
    this.#episode = episode;
    const news = this.#news(alerts);
    this.#hear({ alerts }, !after);
    return news;
  }

  #whole(without = null) {
    const ones = [...this.#known.all, ...this.#pending.values()].filter((one) => one.fact.id !== without);
    return Episode.replay(this.#protocol, ones.flatMap((one) => one.entry ?? []), { reference: this.#pack.reference });
  }

  #hear({ alerts }, whole = true) {
    this.#alerts.clear();
    this.#news(alerts);
    this.#heard = whole;
  }

  // The alerts among these that were not given before.
  #news(alerts) {
    return alerts.filter((one) => {
      const text = JSON.stringify([one.rule, one.entry, one.at]);
      return !this.#alerts.has(text) && this.#alerts.add(text);
    });
  }
}

/**
 * @param {{reference: string, protocol: {digest: string, document: string}, number: number, entries: string[],
 *   snapshot: string | null, names: object, zone: string, role: string | null}} pack as GET …/pack/ gives it
 * @param {{reference: string, name: string}} staff who records here
 * @param {() => Date} now by the server's clock
 */
export const localCore = (pack, staff, now = () => new Date()) => new LocalCore(pack, staff, now);
