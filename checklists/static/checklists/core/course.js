// The course of an episode: one entry after another past the deadlines, the document's rules and the fold.

import { FALL_UNREVIEWED, foreseeAttempt, judgeSignOff } from "./builtin.js";
import { counted } from "./counted.js";
import { Deadlines } from "./deadline.js";
import { Entry } from "./entry.js";
import { AttemptFacts } from "./facts.js";
import { Fold, SIGNED } from "./fold.js";
import { foresee, LEFT, ONLY, RIGHT, watch } from "./monitor.js";
import { BROKEN, EXPECTED } from "./program.js";
import { comparePlaces, place } from "./record.js";

export const NOBODY = "00000000-0000-0000-0000-000000000000"; // the id of an entry that is only planned

// One break of a rule at an entry. `at` is the entry's, as written.
export class Alert {
  /** @param {string} rule @param {string} entry @param {string} at @param {string} severity */
  constructor(rule, entry, at, severity) {
    this.rule = rule;
    this.entry = entry;
    this.at = at;
    this.severity = severity;
  }
}

// A break as it is sorted: the place of the entry in the record, the number of the rule, `at`.
const rawAt = (entry, number) => [...place(entry), number, entry.at];

// A missed deadline as a break of its rule at its entry.
const rawPending = ([, rule, atUs, seq, rank, id, at]) => [Number(rank !== 0), atUs, seq, rank, id, rule, at];

// What is pending, once where it is for both knees.
const once = (pending) => [...new Map(pending.map((one) => [one.slice(1).join(), one])).values()];

// The state after the last entry, and the step past the next one, whose cost does not depend on those before it.
export class Course {
  /** @param {Protocol} protocol */
  constructor(protocol) {
    this.protocol = protocol;
    this._compiled = protocol.compiled;
    this.met = []; // deadlines [rule, entry] that the last append has met
    this._begin(0);
  }

  _begin(both) {
    this._both = both;
    this._views = both ? [LEFT, RIGHT] : [ONLY];
    this.fold = new Fold(this._compiled.plans[both]);
    this._memories = this._views.map(() => this._compiled.watch.firstMemory());
    this._deadlines = this._views.map(() => new Deadlines());
  }

  get _statusOf() {
    return (key, at) => this.fold.statusNamed(key, at);
  }

  // Move past an entry: first what is certainly late, then the document's rules, then the fold with its rules.
  _step(entry, raw) {
    const facts = this._compiled.facts(entry.shape, this._both);
    if (entry.rank && this._deadlines.some((book) => entry.atUs > book.nextDue)) this._overdue(entry.atUs, raw);
    for (const number of this._brokenInDocument(entry)) raw.push(rawAt(entry, number));
    if (facts.act !== null) {
      for (const number of facts.act(this.fold, entry, facts)) raw.push(rawAt(entry, this._compiled.firstBuiltin + number));
      if (entry.kind === "fall" || entry.kind === "review") this._awaitReview(entry);
    }
    if (facts.mode !== null) this._noteMode(entry, facts.mode);
  }

  // The rules of the document that the entry breaks in the sequence of the only knee, or of either.
  _brokenInDocument(entry) {
    const broken = new Set();
    this._views.forEach((knee, side) => {
      const view = this._compiled.view(entry.shape, knee);
      if (!view) return;
      const verdicts = watch(this._compiled.watch, this._memories[side], view, entry, this._statusOf);
      for (const number of this._broken(verdicts, side, entry)) broken.add(number);
    });
    return broken;
  }

  // The rules that are broken at once; the verdicts of deadlines go into the book of deadlines.
  _broken(verdicts, side, entry) {
    const broken = [];
    for (const [number, verdict] of verdicts) {
      if (!this._compiled.deadlines.has(number)) {
        broken.push(number);
        continue;
      }
      if (verdict & EXPECTED) this._hasMet(this._deadlines[side].met(number));
      if (verdict & BROKEN) this._deadlines[side].await_(number, entry, this._compiled.programs[number].rule.within);
    }
    return broken;
  }

  _awaitReview(entry) {
    const number = this._compiled.firstBuiltin + FALL_UNREVIEWED;
    const [book] = this._deadlines;
    if (entry.kind === "fall") book.await_(number, entry, this.fold.plan.fallReview);
    else this._hasMet(book.metFor(number, entry.get("of")));
  }

  _hasMet(met) {
    if (!met.length) return;
    const [[, rule]] = met;
    const awaited = this._deadlines.flatMap((book) => book.open.get(String(rule)) ?? []).map((one) => one[5]); // for the other knee
    const ids = met.map((one) => one[5]).filter((id) => !awaited.includes(id));
    this.met.push(...ids.map((id) => [this._compiled.ruleKeys[rule], id]));
  }

  _overdue(at, raw) {
    raw.push(...once(this._deadlines.flatMap((book) => book.overdue(at))).map(rawPending));
  }

  _pendingAt(at) {
    return once(this._deadlines.flatMap((book) => book.all()).filter(([due]) => due < at)).map(rawPending);
  }

  _noteMode(entry, event) {
    for (const side of [0, 1]) {
      if ((event.knees >> side) & 1) this.fold.modes[side] = [event.mode, event.proof, entry.at, entry.by];
    }
  }

  _alerts(raw) {
    const { ruleKeys, severities } = this._compiled;
    return [...raw].sort(comparePlaces).map((one) => new Alert(ruleKeys[one[5]], one[4], one[6], severities[one[5]]));
  }

  // -- what if --------------------------------------------------------------------------------------------------------

  /**
   * A safe attempt at an instant, as nobody has recorded it yet.
   * @param {string} skill
   * @param {string} support
   * @param {string} help
   * @param {[number, number, string]} at microseconds, day, text
   * @returns {Entry}
   */
  planned(skill, support, help, at) {
    const shape = this._compiled.planned(skill, support, help);
    return new Entry(at[0], 0, shape.rank, NOBODY, shape, at[1], at[2], "", "", null);
  }

  /**
   * The numbers of the document's rules that an entry would break at once.
   * @param {Entry} entry
   * @returns {Set<number>}
   */
  foresee(entry) {
    const found = new Set();
    this._views.forEach((knee, side) => {
      const view = this._compiled.view(entry.shape, knee);
      if (!view) return;
      for (const [number] of foresee(this._compiled.watch, this._memories[side], view, entry, this._statusOf)) {
        if (!this._compiled.deadlines.has(number)) found.add(number);
      }
    });
    return found;
  }

  // A text: entries of which it is equal break the same rules of the document, if they came next.
  seenAs(entry) {
    const views = this._views.map((knee) => this._compiled.view(entry.shape, knee));
    const asks = views.some((view) => view && view.asksSkill);
    return JSON.stringify([...views.map((view) => (view ? view.number : null)), asks ? entry.shape.skill : null]);
  }

  // The numbers of the built-in rules that an entry would break at once.
  foreseeBuiltin(entry) {
    const facts = this._compiled.facts(entry.shape, this._both);
    if (facts instanceof AttemptFacts) return foreseeAttempt(this.fold, facts, entry.atUs, entry.day);
    return entry.kind === "sign_off" ? judgeSignOff(this.fold, entry, facts) : [];
  }

  // How a planned attempt would stand to the evidence of its skill; null for any other entry as well.
  counted(entry) {
    const facts = this._compiled.facts(entry.shape, this._both);
    return facts instanceof AttemptFacts ? counted(this, entry, facts) : null;
  }

  // When the sign-offs that stand lapse.
  _lapses() {
    const standing = this.fold.plan.skills.filter((skill) => this.fold.skills[skill.number][SIGNED] && skill.valid !== null);
    return standing.map((skill) => this.fold.skills[skill.number][SIGNED][0] + skill.valid);
  }

  // When what the rules remember within a bound of time passes out of it.
  _expiries() {
    return this._memories.flatMap((memory) => this._compiled.watch.expiries(memory));
  }

  // Whether a planned attempt would be at a gap that puts its own skill back to the first rung.
  resetsAt(entry) {
    const facts = this._compiled.facts(entry.shape, this._both);
    if (!(facts instanceof AttemptFacts) || facts.seated || !this.fold.isGap(entry.day)) return false;
    return !(this.fold.signedAt(entry.atUs) & facts.bit);
  }
}
