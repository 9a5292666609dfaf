// The fold: what an episode's entries, taken in order, make of every skill (SEMANTICS.md §5).
//
// The state is plain JSON (arrays, and Maps where names are data), so that a snapshot is cheap to write and to take up
// again. Masks of skills are derived from it and are not part of a snapshot.

// The state of one skill is an array; these are its places.
export const ALLOWED = 0; // number of the rung that is allowed
export const [STAGE, RUN, DAYS, MET] = [1, 2, 3, 4]; // the evidence: stage, attempts in a row, dates that count, whether it is met
export const SIGNED = 5; // [microseconds, at, by] of the standing sign-off, or null
export const SUSPENDED = 6; // a fall-back event came after the standing sign-off
export const RECENT = 7; // the last three attempts that were not stopped, as bits: 1 is unsafe
export const TRIED = 8; // there is an attempt
export const RUNGS = 9; // Map: rung → [at, by] of the last safe attempt on it
export const FELL = 10; // [at, why] of the last fall-back event, or null
export const NEVER = Infinity;
export const UNCOUNTED = Object.freeze(["not_applicable", "signed_off"]); // the statuses in which nothing is counted

// A fall in `falls`: [skill or -1, at, what the reviews say]
export const [UNSEEN, NOT_CLEARED, CLEARED] = [0, 1, 2];

// The fold of one episode up to and including its last entry.
export class Fold {
  /** @param {Plan} plan */
  constructor(plan) {
    this.plan = plan;
    this.skills = plan.keys.map(() => [0, 0, 0, [], 0, null, 0, 0, 0, new Map(), null]);
    this.features = [0, 0];
    this.falls = new Map();
    this.lastTry = null; // day number
    this.opening = null; // [id, at, by, side]
    this.modes = [[null, null, null, null], [null, null, null, null]];
    this.uncounted = [null, []]; // a date, and its safe attempts that left the evidence as it was
    this.derive();
  }

  // The state as plain JSON.
  dump() {
    return [this.skills, this.features, this.falls, this.lastTry, this.opening, this.modes, this.uncounted];
  }

  // Go on from a state that `dump` gave.
  static of(plan, state) {
    const self = new Fold(plan);
    [self.skills, self.features, self.falls, self.lastTry, self.opening, self.modes, self.uncounted] = state;
    self.derive();
    return self;
  }

  // Work the masks out from the state.
  derive() {
    this.applicable = this.plan.applicable(this.features[0] & this.features[1]);
    this.deriveSigned();
    this.deriveFalls();
  }

  // `signed`: a sign-off stands, is not suspended and, as far as the fold has come, has not lapsed.
  deriveSigned() {
    this.signed = 0n;
    this.nextLapse = NEVER;
    for (const skill of this.plan.skills) {
      const state = this.skills[skill.number];
      if (state[SIGNED] === null || state[SUSPENDED]) continue;
      this.signed |= skill.bit;
      if (skill.valid !== null) this.nextLapse = Math.min(this.nextLapse, state[SIGNED][0] + skill.valid);
    }
  }

  // `openFalls`: skills with an open fall; `contestedFalls`: with one that a review named and did not clear.
  deriveFalls() {
    this.openFalls = 0n;
    this.contestedFalls = 0n;
    this.fallCounts = new Map();
    for (const [skill, , seen] of this.falls.values()) this.countFall(skill, seen, 1);
  }

  // One fall of a skill (-1: of none) more or less in this state; the masks follow.
  countFall(skill, seen, by) {
    if (seen === CLEARED) return;
    const count = (state) => this.fallCounts.get(`${skill} ${state}`) ?? 0;
    const number = count(seen) + by;
    this.fallCounts.set(`${skill} ${seen}`, number);
    const other = count(UNSEEN + NOT_CLEARED - seen);
    const bit = skill < 0 ? this.plan.noSkill : 1n << BigInt(skill);
    this.openFalls = number || other ? this.openFalls | bit : this.openFalls & ~bit;
    if (seen === NOT_CLEARED) this.contestedFalls = number ? this.contestedFalls | bit : this.contestedFalls & ~bit;
  }

  // A safe attempt that did not count is remembered; of an earlier date than the last one nothing is.
  leaveUncounted(entry, day) {
    if (this.uncounted[0] !== day) this.uncounted = [day, []];
    this.uncounted[1].push(entry);
  }

  // Drop from `signed` what has lapsed at an instant; the fold only goes forward.
  lapse(at) {
    this.nextLapse = NEVER;
    for (const skill of this.plan.members(this.signed)) {
      if (skill.valid === null) continue;
      const until = this.skills[skill.number][SIGNED][0] + skill.valid;
      if (at >= until) this.signed &= ~skill.bit;
      else this.nextLapse = Math.min(this.nextLapse, until);
    }
  }

  // The mask of the skills that are `signed_off` at an instant, without moving the fold.
  signedAt(at) {
    let mask = this.signed & this.applicable;
    if (at < this.nextLapse) return mask;
    for (const skill of this.plan.members(mask)) {
      if (skill.valid !== null && at >= this.skills[skill.number][SIGNED][0] + skill.valid) mask &= ~skill.bit;
    }
    return mask;
  }

  /**
   * The status of a skill at an instant: the first that fits (SEMANTICS.md §5).
   * @param {number} number of the skill
   * @param {number} at in microseconds
   * @param {bigint} signed `signedAt(at)`, if known
   * @returns {string}
   */
  status(number, at, signed = this.signedAt(at)) {
    const skill = this.plan.skills[number];
    const state = this.skills[number];
    if (!(this.applicable & skill.bit)) return "not_applicable";
    if (state[SIGNED] !== null) {
      if (state[SUSPENDED]) return "suspended";
      return skill.valid !== null && at >= state[SIGNED][0] + skill.valid ? "lapsed" : "signed_off";
    }
    if (skill.depends & this.applicable & ~signed || this.openFalls & skill.counts) return "blocked";
    if (state[MET]) return "ready";
    return state[TRIED] ? "training" : "open";
  }

  // The status of a skill by its key.
  statusNamed(key, at) {
    return this.status(this.plan.number.get(key), at);
  }

  // The mask of the prerequisites, among what a skill depends on, that are not `signed_off`.
  missing(depends, at) {
    return depends & this.applicable & ~this.signedAt(at);
  }

  // A fall-back event of these skills: what was proven must be proven again, from the first rung.
  fallBack(mask, at, why) {
    for (const skill of this.plan.members(mask)) {
      const state = this.skills[skill.number];
      state[ALLOWED] = 0;
      beginEvidence(state);
      state[SUSPENDED] = Number(state[SIGNED] !== null);
      state[FELL] = [at, why];
    }
    this.signed &= ~mask;
  }

  // Whether an attempt on this day, of a skill that is not tagged `seated`, would be at a gap.
  isGap(day) {
    return this.lastTry !== null && day - this.lastTry > this.plan.gapDays;
  }
}

// The evidence begins anew in the first stage.
export function beginEvidence(state) {
  state[STAGE] = 0;
  state[RUN] = 0;
  state[MET] = 0;
  state[DAYS] = [];
}
