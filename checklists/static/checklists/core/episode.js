// An episode as it stands after its last entry: what the surfaces ask, a step further, and its snapshot.

import * as advice from "./advice.js";
import { lacking, STRUCK_DANGER } from "./builtin.js";
import { Course, NOBODY } from "./course.js";
import { Deadline, Deadlines } from "./deadline.js";
import { checkEntry } from "./entry_check.js";
import { ValueError } from "./errors.js";
import { Fold } from "./fold.js";
import * as instant from "./instant.js";
import { parse } from "./json.js";
import { BESIDE } from "./kinds.js";
import { KneeState } from "./knee.js";
import { LEFT, ONLY, RIGHT } from "./monitor.js";
import { makeEntry } from "./reading.js";
import * as reasons from "./reasons.js";
import { arrange, comparePlaces, NO_OPENING, place } from "./record.js";
import { asJson } from "./values.js";
import { written } from "./written.js";

const VERSION = 3; // of the form of a snapshot, the same as the server's

// A snapshot of another protocol or of another form: only a replay gives the state.
export class StaleSnapshot extends ValueError {
  name = "StaleSnapshot";
}

const tie = (entry) => [entry.atUs, entry.seq, entry.rank, entry.id];

// The state of one episode. An entry that it `takes` is appended at a cost that does not depend on those before it.
export class Episode extends Course {
  /** @param {Protocol} protocol @param {string} reference */
  constructor(protocol, reference) {
    super(protocol);
    this.reference = reference;
    this.number = 0; // of entries that count
    this._last = null; // [microseconds, seq, rank, id]
    this._now = null; // [microseconds, at]
    this._waiting = [];
  }

  // -- from nothing ---------------------------------------------------------------------------------------------------

  /**
   * Fold a whole record, in whatever order and how often its entries arrived; `at` reports as of an instant.
   * @param {Protocol} protocol
   * @param {Iterable<Entry>} entries
   * @param {{reference: string, at?: Date | string | null}} of
   * @returns {{episode: Episode, alerts: Alert[], refused: Refused[], struck: Map<string, string[]>, at: string | null,
   *   refusedAt: number[]}} `at`: the instant of the report, as written; null where nothing happened. `refusedAt`: for each
   *   of `refused`, its place among the entries received; -1 for the missing opening
   */
  static replay(protocol, entries, { reference, at = null }) {
    const record = arrange(entries, reference);
    const episode = new Episode(protocol, reference);
    const { last } = record;
    const [untilUs, , until] = at !== null ? instant.of(at) : [last?.atUs ?? 0, 0, last?.at ?? null];
    const raw = episode.#foldAll(record, untilUs);
    raw.push(...episode._pendingAt(untilUs), ...episode.#struckDangers(record, untilUs));
    const refused = [...record.refused, ...(record.opening === null ? [[-1, NO_OPENING]] : [])];
    return {
      episode,
      alerts: episode._alerts(raw),
      refused: refused.map(([, one]) => one),
      struck: record.struck,
      at: until,
      refusedAt: refused.map(([index]) => index),
    };
  }

  #foldAll(record, untilUs) {
    const raw = [];
    const entries = record.entries.filter((entry) => entry.atUs <= untilUs);
    if (record.opening !== null) {
      this._begin(Number(record.opening.get("side") === "both"));
      this._step(record.opening, raw);
    }
    for (const entry of entries) this._step(entry, raw);
    this.number = entries.length + Number(record.opening !== null);
    this._waiting = record.waiting;
    const strikes = record.strikes.map(([strike]) => strike).filter((strike) => strike.atUs <= untilUs);
    for (const end of [record.opening, ...entries.slice(-1), ...strikes]) if (end !== null) this.#note(end);
    return raw;
  }

  #struckDangers(record, untilUs) {
    const number = this._compiled.firstBuiltin + STRUCK_DANGER;
    return record.strikes
      .filter(([strike, target]) => target !== null && strike.atUs <= untilUs && this._compiled.facts(target.shape, this._both).dangerous)
      .map(([strike]) => [...place(strike), number, strike.at]);
  }

  /**
   * Fold what came after a snapshot, in whatever order it arrived, strike-outs among it; `alerts` are those of what came, and
   * of the deadlines that were open. Null where only a replay of the whole record gives the right answer: something is late,
   * or strikes out what is folded in already.
   * @param {Protocol} protocol
   * @param {string | Uint8Array} snapshot
   * @param {Iterable<Entry>} entries
   * @returns {{episode: Episode, alerts: Alert[]} | null}
   */
  static goOn(protocol, snapshot, entries) {
    const episode = Episode.restore(protocol, snapshot);
    const record = arrange(entries, episode.reference);
    const [first] = record.entries;
    if (record.opening || record.waiting.length || episode._waiting.length || (first && !episode.takes(first))) return null;
    const raw = [];
    for (const entry of record.entries) episode._step(entry, raw);
    episode.number += record.entries.length;
    for (const end of [...record.entries.slice(-1), ...record.strikes.map(([strike]) => strike)]) episode.#note(end);
    const untilUs = episode._now?.[0] ?? 0;
    raw.push(...episode._pendingAt(untilUs), ...episode.#struckDangers(record, untilUs));
    return { episode, alerts: episode._alerts(raw) };
  }

  // -- step by step ---------------------------------------------------------------------------------------------------

  // Whether `append` gives the right answer; for a late fact, a strike-out, an opening only a replay does.
  takes(entry) {
    if (entry.kind === "struck_out" || this._waiting.includes(entry.id)) return false;
    if (BESIDE.has(entry.kind)) return true;
    if (entry.rank === 0) return this.number === 0 && this._last === null;
    return this._last === null || comparePlaces(tie(entry), this._last) > 0;
  }

  /**
   * Take the next entry in order. `met` then lists the deadlines that it met: an alert that was raised when one of them
   * passed is withdrawn.
   * @param {Entry} entry
   * @returns {Alert[]} what it breaks, and the deadlines that its instant shows to be missed
   */
  append(entry) {
    if (!this.takes(entry)) throw new ValueError("only a replay of the whole record can take this entry");
    if (entry.shape.protocol !== this.protocol) throw new ValueError("the entry was read under another protocol");
    this.met = [];
    if (BESIDE.has(entry.kind)) return [];
    if (entry.rank === 0) this._begin(Number(entry.get("side") === "both"));
    const raw = [];
    this._step(entry, raw);
    this.#note(entry);
    this.number += 1;
    return this._alerts(raw);
  }

  // Remember how far the record goes, in order and in time.
  #note(entry) {
    const here = tie(entry);
    if (entry.rank && (this._last === null || comparePlaces(here, this._last) > 0)) this._last = here;
    const isLast = this._last !== null && comparePlaces(here, this._last) === 0;
    if (this._now === null || entry.atUs > this._now[0] || (entry.atUs === this._now[0] && isLast)) this._now = [entry.atUs, entry.at];
  }

  // -- what it says ---------------------------------------------------------------------------------------------------

  // Whether the person has two prostheses.
  get both() {
    return Boolean(this._both);
  }

  // The `at` of the last entry in time, as written.
  get at() {
    return this._now ? this._now[1] : null;
  }

  // The open deadlines, soonest first, each once. Broken at the first instant after `due`, unless met by then.
  deadlines() {
    const { ruleKeys, severities } = this._compiled;
    const open = new Map(this._deadlines.flatMap((book) => book.all()).map((one) => [one.join(), one]));
    const inOrder = [...open.values()].sort(comparePlaces);
    return inOrder.map(([due, rule, , , , id, at]) => new Deadline(ruleKeys[rule], id, at, due, severities[rule]));
  }

  /**
   * The status of every skill at an instant, by default that of the last entry.
   * @param {Date | string | null} at
   * @returns {Map<string, string>}
   */
  statusWords(at = null) {
    const moment = at !== null ? instant.of(at)[0] : this._now ? this._now[0] : 0;
    return new Map(this.fold.plan.keys.map((key, number) => [key, this.fold.status(number, moment)]));
  }

  /**
   * Every skill with its status and the reasons in plain words, at an instant not before the last entry.
   * @param {Date | string} at
   * @returns {Map<string, SkillStatus>}
   */
  statuses(at) {
    return reasons.statuses(this.fold, instant.of(at)[0]);
  }

  // One skill, as `statuses` has it.
  status(skill, at) {
    const [atUs] = instant.of(at);
    return reasons.status(this.fold, this.fold.plan.skills[this.fold.plan.number.get(skill)], atUs, this.fold.signedAt(atUs));
  }

  // What a sign-off of a skill would lack at an instant, one sentence each; none where it would be supported.
  signOffBlockers(skill, at) {
    const [atUs, day] = instant.of(at);
    const number = this.fold.plan.number.get(skill);
    return reasons.signOffLacks(this.fold, this.fold.plan.skills[number], atUs, lacking(this.fold, number, atUs, day));
  }

  /**
   * What an attempt (or another planned entry) would break if it were made now by somebody in this role. Throws EntryRefused
   * where a field is wrong.
   * @param {Map<string, unknown> | object} planned the fields of its kind; `kind` is by default `attempt` and the result of
   *   an attempt `safe`
   * @param {{at: Date | string, role?: string | null}} now
   * @returns {Advice}
   */
  advise(planned, { at, role = null }) {
    const text = instant.of(at)[2];
    const own = [["id", NOBODY], ["episode", this.reference], ["at", text], ["by", ""], ["kind", "attempt"]];
    const obj = new Map([...own, ...asJson(planned)]);
    if (obj.get("kind") === "attempt" && !obj.has("result")) obj.set("result", "safe");
    if (role !== null) obj.set("role", role);
    checkEntry(obj, this.protocol, null);
    if (BESIDE.has(obj.get("kind"))) return new advice.Advice(true, []);
    const entry = makeEntry(obj, this._compiled.shapes);
    const breaks = advice.brokenBy(this, entry);
    return new advice.Advice(!breaks.length, breaks, this.counted(entry));
  }

  // The skills of which even the firmest attempt is against a rule that binds whoever records in this role.
  closedTo(role, at) {
    const [help] = this.protocol.help;
    const breaks = (skill, support, of) => this.advise({ skill, support, help }, { at, role: of }).breaks.map((one) => one.rule);
    return this.fold.plan.skills.filter(({ skill, ladder: [firmest] }) => {
      const anybody = new Set(breaks(skill.key, firmest, null));
      return breaks(skill.key, firmest, role).some((rule) => !anybody.has(rule));
    }).map(({ skill }) => skill.key);
  }

  // What is safe to try next, in climbing order.
  nextSteps(at) {
    return advice.nextSteps(this, instant.of(at));
  }

  // What must be checked or done before anything is tried.
  checkFirst(at) {
    return advice.checkFirst(this, instant.of(at));
  }

  // The first instant after `at`, in microseconds, at which time alone may change what the above say; null: none.
  changesAt(at) {
    const [atUs, , text] = instant.of(at);
    const known = [...this._lapses(), ...this._expiries()];
    if (this.fold.lastTry !== null) {
      const days = this.fold.lastTry + this.fold.plan.gapDays + 1 - instant.EPOCH_DAY;
      known.push(days * instant.DAY - offsetOf(text));
    }
    return known.filter((until) => until > atUs).reduce((first, one) => (first === null || one < first ? one : first), null);
  }

  // The mode of the knee, or of the left and of the right one.
  knees() {
    return (this._both ? ["left", "right"] : [null]).map((side, place_) => new KneeState(side, ...this.fold.modes[place_]));
  }

  // The safe attempts of the last date on which one did not count that left the evidence as it was, oldest first: what `advise`
  // says of a planned one in `counted`, of those that were made.
  uncounted() {
    return [...this.fold.uncounted[1]];
  }

  // -- snapshot -------------------------------------------------------------------------------------------------------

  /**
   * The state as JSON: a few kB, whatever the number of entries, and byte for byte (in UTF-8) what the server writes.
   * @returns {string}
   */
  snapshot() {
    return written([
      VERSION, this.protocol.digest, this.reference, this._both, this.number, this._last, this._now, this._waiting,
      this.fold.dump(),
      this._memories.map((memory) => this._compiled.watch.dump(memory)),
      this._deadlines.map((book) => book.dump()),
    ]);
  }

  /**
   * Take an episode up from its snapshot, the server's or one's own; throws StaleSnapshot where the protocol or the form is
   * another.
   * @param {Protocol} protocol
   * @param {string | Uint8Array} snapshot
   * @returns {Episode}
   */
  static restore(protocol, snapshot) {
    const [version, digest, reference, both, number, last, now, waiting, fold, memories, books] = parse(snapshot);
    if (version !== VERSION || digest !== protocol.digest) {
      throw new StaleSnapshot("the snapshot was made under another protocol or by another version");
    }
    const self = new Episode(protocol, reference);
    self._both = both;
    self._views = both ? [LEFT, RIGHT] : [ONLY];
    self.number = number;
    self._last = last && withSeq(last, 1);
    self._now = settled(now);
    self._waiting = waiting;
    self.fold = Fold.of(self._compiled.plans[both], settled(fold));
    self._memories = memories.map((memory) => self._compiled.watch.takeUp(memory));
    const pending = (open) => new Map([...open].map(([rule, all]) => [rule, all.map((one) => withSeq(one, 3))]));
    self._deadlines = books.map((open) => new Deadlines(pending(open)));
    return self;
  }
}

// Microseconds by which the clocks of an instant's text are ahead of UTC.
function offsetOf(text) {
  const tail = /(?:Z|[+-][0-9]{2}:[0-9]{2})$/.exec(text)[0];
  return instant.read(`1970-01-02T00:00:00Z`)[0] - instant.read(`1970-01-02T00:00:00${tail}`)[0];
}

// What was read of a snapshot, with instants after the year 2255 as the doubles that the core works with.
function settled(value) {
  if (typeof value === "bigint") return Number(value);
  if (Array.isArray(value)) return value.map(settled);
  return value instanceof Map ? new Map([...value].map(([name, inner]) => [name, settled(inner)])) : value;
}

// The same, but a `seq` of many digits keeps them.
const withSeq = (values, place_) => values.map((value, i) => (i === place_ ? value : settled(value)));
