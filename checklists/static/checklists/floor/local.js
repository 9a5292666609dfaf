// The record of one person on this device: what the server has said of it and what was recorded here since, folded by the very
// core that judges it on the server (../core/core.js). State and advice come from here, with a network and without one.

import { adviceFor, BUILTIN_RULES, EntryRefused, Episode, floorState, loadProtocol, parseEntry } from "../core/core.js";
import { compareEntries } from "../core/entry.js";
import { parse } from "../core/json.js";
import { dayBegan, written } from "./zone.js";

const VERSION = "1"; // of the core, beside what it judged
const OF_A_MODE = new Set(["mode_set", "mode_checked", "check"]);
const AS_FAR_BACK = 6; // instants at which a mode was set or checked

class LocalCore {
  #pack;
  #staff;
  #protocol;
  #names;
  #known = new Map(); // id → { fact, entry }: what the record has, in the order of reception
  #pending = new Map(); // … and what it does not have yet, as far as this device has heard
  #alerts = new Set(); // every alert that the fold has given, as text
  #episode = null;
  #was = new Map(); // what `#before` has found
  #now;

  constructor(pack, staff, now) {
    this.#pack = { ...pack, entries: [] };
    this.#staff = staff;
    this.#now = now;
    this.#protocol = loadProtocol(pack.protocol.document);
    this.#names = new Map([[staff.reference, staff.name]]);
    this.bring(pack);
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
  bring({ number, role, names, entries }) {
    for (const [by, name] of Object.entries(names)) this.#names.set(by, name);
    Object.assign(this.#pack, { number, role });
    this.#pack.entries.push(...entries);
    const found = [];
    let changed = this.#episode === null;
    for (const text of entries) {
      const one = { fact: JSON.parse(text), entry: parseEntry(parse(text), this.#protocol) };
      const mine = this.#pending.get(one.fact.id);
      this.#pending.delete(one.fact.id);
      if (this.#known.has(one.fact.id)) continue;
      this.#known.set(one.fact.id, one);
      if (mine) changed ||= !mine.entry || mine.fact.role !== one.fact.role || mine.fact.by !== one.fact.by;
      else found.push(one);
    }
    const inTime = [...found].sort((a, b) => compareEntries(a.entry, b.entry));
    if (changed || !inTime.every((one) => this.#appended(one.entry))) this.#replay();
    return found.map((one) => one.fact);
  }

  /** Facts of the record that came with the page, before the pack had them. */
  hold(facts) {
    const here = (fact) => this.#known.has(fact.id) || this.#pending.has(fact.id);
    const news = facts.filter((fact) => !here(fact));
    for (const fact of news) this.#pending.set(fact.id, { fact, entry: parseEntry(fact, this.#protocol) });
    if (news.length) this.#replay();
  }

  /**
   * Facts that were recorded here. What was said of each, as it travels with it: after which fact of the server and with which
   * before it, what it broke.
   * @param {object[]} facts as they wait to be sent
   * @returns {({after: number, with: string[], alerts: [string, string, string][], core: string} | null)[]} null: known already
   */
  take(facts) {
    return facts.map((fact) => {
      if (this.#known.has(fact.id) || this.#pending.has(fact.id)) return null;
      const before = [...this.#pending.keys()];
      const { role } = this.#pack;
      const whole = { ...fact, by: this.#staff.reference, episode: this.#pack.reference, ...(role ? { role } : {}) };
      const entry = this.#received(whole);
      this.#pending.set(fact.id, { fact: whole, entry });
      const alerts = entry ? this.#appended(entry) ?? this.#replay() : [];
      return { after: this.number, with: before, alerts: alerts.map((one) => [one.rule, one.entry, one.severity]), core: VERSION };
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
    const facts = this.#all().map((one) => one.fact);
    const state = floorState(this.#episode, { at: this.#at(), since, facts, names: this.#names });
    return { ...state, knees: state.knees.map((knee, side) => ({ ...knee, before: this.#before(knee, side) })) };
  }

  // The mode that a knee had before the one that is not proven yet: which check proves it depends on that. Null: not known.
  #before({ mode, proof, at }, side) {
    if (!mode || proof === "proven") return null;
    const key = `${side} ${mode} ${at}`;
    if (!this.#was.has(key)) this.#was.set(key, this.#lastOther(mode, side));
    return this.#was.get(key);
  }

  #lastOther(mode, side) {
    const entries = this.#all().flatMap((one) => one.entry ?? []);
    const instants = entries.filter((entry) => OF_A_MODE.has(entry.kind)).map((entry) => entry.atUs);
    for (const instant of [...new Set(instants)].sort((a, b) => b - a).slice(0, AS_FAR_BACK)) {
      const then = entries.filter((entry) => entry.atUs < instant || entry.kind === "struck_out");
      const { episode } = Episode.replay(this.#protocol, then, { reference: this.#pack.reference });
      const was = episode.knees()[side]?.mode;
      if (was && was !== mode) return was;
    }
    return null;
  }

  async state() {
    return { kind: "ok", state: this.told() };
  }

  /** {rung: {help: {allowed, breaks}}} for a skill, with what is `waiting` besides; null: no such skill. */
  advise(skill, waiting = []) {
    this.take(waiting);
    return adviceFor(this.#episode, skill, { at: this.#at(), role: this.#pack.role });
  }

  /** What take() said of a broken rule, in words. */
  alert([rule, entry, severity]) {
    const { sentence, doNow } = this.#protocol.rules.get(rule) ?? BUILTIN_RULES.get(rule);
    return { rule, entry, severity, sentence, do_now: doNow };
  }

  #at() {
    return written(this.#now(), this.#pack.zone);
  }

  #all() {
    return [...this.#known.values(), ...this.#pending.values()];
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

  // A late fact, a strike-out, a fact that is gone: only the whole record gives the right answer.
  #replay() {
    const entries = this.#all().flatMap((one) => one.entry ?? []);
    const { episode, alerts } = Episode.replay(this.#protocol, entries, { reference: this.#pack.reference });
    this.#episode = episode;
    const news = this.#news(alerts);
    this.#alerts.clear();
    this.#news(alerts);
    return news;
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
 * @param {{reference: string, protocol: {digest: string, document: string}, number: number, entries: string[], names: object,
 *   zone: string, role: string | null}} pack as GET …/pack/ gives it
 * @param {{reference: string, name: string}} staff who records here
 * @param {() => Date} now by the server's clock
 */
export const localCore = (pack, staff, now = () => new Date()) => new LocalCore(pack, staff, now);
