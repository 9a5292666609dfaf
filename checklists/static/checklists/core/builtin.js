// The built-in rules at the entry that breaks them, judged against the fold just before it (SEMANTICS.md §4).
//
// Rules are numbers here: their places in BUILTIN_RULES.

import { ALLOWED, MET } from "./fold.js";
import { BUILTIN_RULES } from "./rule.js";

export const [
  PREREQUISITE, SUPPORT_STEP, FALL_REVIEW, FALL_UNREVIEWED, GAP, ALONE, FEATURE, UNSUPPORTED_SIGN_OFF, STRUCK_DANGER,
] = [...[...BUILTIN_RULES.keys()].keys()];
const NONE = Object.freeze([]);

const those = (pairs) => pairs.filter(([, is]) => is).map(([what]) => what);

/**
 * The rules that an attempt breaks.
 * @param {Fold} fold
 * @param {AttemptFacts} facts
 * @param {bigint} signed what is signed off
 * @param {boolean} off its rung is not allowed
 * @param {boolean} gap it is at one
 * @returns {readonly number[]}
 */
export function judgeAttempt(fold, facts, signed, off, gap) {
  const missing = facts.prerequisites & fold.applicable & ~signed && !facts.inHand;
  const falls = facts.counts & (facts.inHand ? fold.contestedFalls : fold.openFalls) && !facts.seated;
  return those([
    [PREREQUISITE, missing],
    [SUPPORT_STEP, off],
    [FALL_REVIEW, falls],
    [GAP, gap && !facts.inBars],
    [ALONE, facts.alone && !(signed & facts.bit && facts.covered)],
    [FEATURE, !(fold.applicable & facts.bit)],
  ]);
}

/**
 * The rules that an attempt at an instant would break, with the fold left as it is.
 * @param {Fold} fold
 * @param {AttemptFacts} facts
 * @param {number} at in microseconds
 * @param {number} day
 * @returns {readonly number[]}
 */
export function foreseeAttempt(fold, facts, at, day) {
  const signed = fold.signedAt(at);
  const gap = !facts.seated && fold.isGap(day);
  const allowed = gap && !(signed & facts.bit) ? 0 : fold.skills[facts.skill][ALLOWED];
  return judgeAttempt(fold, facts, signed, facts.rung < 0 || facts.rung > allowed, gap);
}

// The rule that a sign-off breaks, with or without a countersignature.
export function judgeSignOff(fold, entry, facts) {
  return lacking(fold, facts.skill, entry.atUs, entry.day).length ? [UNSUPPORTED_SIGN_OFF] : NONE;
}

/**
 * What a sign-off of a skill would lack: any of feature, evidence, prerequisite, fall, gap.
 * @param {Fold} fold
 * @param {number} number of the skill
 * @param {number} at in microseconds
 * @param {number} day
 * @returns {string[]}
 */
export function lacking(fold, number, at, day) {
  const skill = fold.plan.skills[number];
  return those([
    ["feature", !(fold.applicable & skill.bit)],
    ["evidence", !fold.skills[number][MET]],
    ["prerequisite", fold.missing(skill.depends, at)],
    ["fall", fold.openFalls & skill.counts],
    ["gap", !skill.seated && fold.isGap(day)],
  ]);
}
