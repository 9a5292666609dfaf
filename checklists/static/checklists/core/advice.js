// What is safe to try next, what a planned attempt would break, and what must be checked before anything.
//
// Advice never guesses: it asks the very rules that judge the entry once it is recorded, against the state as it stands.

import { FALL_REVIEW, GAP, lacking, PREREQUISITE, SUPPORT_STEP, UNSUPPORTED_SIGN_OFF } from "./builtin.js";
import { ALLOWED, CLEARED, MET, NOT_CLEARED, SIGNED, STAGE, TRIED } from "./fold.js";
import { allowedRung, evidence, signOffLacks } from "./reasons.js";
import { BUILTIN_RULES } from "./rule.js";
import { dayOf, said } from "./words.js";

const BUILTINS = [...BUILTIN_RULES.values()];

// A rule that a planned entry would break, and what to do first.
export class Broken {
  /** @param {string} rule @param {string} severity @param {string} sentence @param {string} doFirst */
  constructor(rule, severity, sentence, doFirst) {
    this.rule = rule;
    this.severity = severity;
    this.sentence = sentence;
    this.doFirst = doFirst;
  }
}

// Whether a planned entry would break no rule, and if not which. `counted`: of an attempt, how it would stand to the evidence;
// null where nothing is counted.
export class Advice {
  /** @param {boolean} allowed @param {Broken[]} breaks @param {Counted | null} counted */
  constructor(allowed, breaks, counted = null) {
    this.allowed = allowed;
    this.breaks = breaks;
    this.counted = counted;
  }
}

// A safe next attempt: a skill on a rung with a help, and why. `first`: what must be done before it, rule by rule.
export class Step {
  /** @param {string} skill @param {string} support @param {string} help @param {string} why @param {Broken[]} first */
  constructor(skill, support, help, why, first) {
    this.skill = skill;
    this.support = support;
    this.help = help;
    this.why = why;
    this.first = first;
  }
}

// Something to check or do before any attempt; `key` is the rule that asks for it.
export class CheckFirst {
  /** @param {string} key @param {string} sentence */
  constructor(key, sentence) {
    this.key = key;
    this.sentence = sentence;
  }
}

const inOrder = (numbers) => [...numbers].sort((a, b) => a - b);

/**
 * What an entry would break if it came next.
 * @param {Course} course
 * @param {Entry} entry
 * @returns {Broken[]}
 */
export function brokenBy(course, entry) {
  const rules = [...course.protocol.rules.values()];
  const own = inOrder(course.foresee(entry)).map((number) => rules[number]);
  return [
    ...own.map((one) => new Broken(one.key, one.severity, one.sentence, one.doNow)),
    ...course.foreseeBuiltin(entry).map((number) => {
      const one = BUILTINS[number];
      return new Broken(one.key, one.severity, one.sentence, doFirst(course, entry, number));
    }),
  ];
}

/** Of a fall that names a skill: no more than that and what builds on it waits. */
export const NOT_HELD_BACK = "Other skills are not held back by it.";

/** What a fall asks for before its skill is tried again, which can be tried in the bars or not. */
export const fallDoFirst = (inBars) => (inBars ? BUILTINS[FALL_REVIEW].doFirst : "Have the fall reviewed and cleared first.");

// The built-in rule's advice, with the skill's own names in it.
function doFirst(course, entry, number) {
  const { fold } = course;
  if (entry.shape.skill === null) return BUILTINS[number].doFirst;
  const skill = fold.plan.skills[fold.plan.number.get(entry.shape.skill)];
  if (number === PREREQUISITE) {
    const missing = fold.plan.members(fold.missing(skill.depends, entry.atUs)).map((one) => one.skill.title);
    const until = skill.bit & fold.plan.inBars ? " Until then only in the bars with somebody at hand." : "";
    return `Sign off first: ${missing.join("; ")}.${until}`;
  }
  if (number === SUPPORT_STEP) {
    const allowed = course.resetsAt(entry) ? 0 : fold.skills[skill.number][ALLOWED];
    return `Make a safe attempt ${said(allowedRung(skill, allowed))} first.`;
  }
  if (number === UNSUPPORTED_SIGN_OFF) {
    const lacks = lacking(fold, skill.number, entry.atUs, entry.day);
    return signOffLacks(fold, skill, entry.atUs, lacks).join(" ");
  }
  if (number === FALL_REVIEW) return fallDoFirst(skill.bit & fold.plan.inBars);
  return BUILTINS[number].doFirst;
}

/**
 * What is safe to try next, in the document's order, which is the order of climbing.
 * @param {Course} course
 * @param {[number, number, string]} at microseconds, day, text
 * @returns {Step[]}
 */
export function nextSteps(course, at) {
  const { fold } = course;
  const signed = fold.signedAt(at[0]);
  const isBegun = ({ number }) => fold.skills[number][TRIED] && fold.skills[number][SIGNED] === null;
  const begun = fold.plan.skills.filter(isBegun).reduce((mask, skill) => mask | skill.bit, 0n);
  return fold.plan.skills.map((skill) => nextStep(course, skill, at, signed, begun)).filter((step) => step !== null);
}

// The attempt that brings a skill on: no rule of the core broken, and as few of the document's as can be.
//
// A blocked skill is worth learning in the bars once all that it still waits for has been `begun` (a mask: tried, and
// not signed before). What must be proven again comes first, so a skill that waits for such a one is not yet next.
function nextStep(course, skill, at, signed, begun) {
  const { fold } = course;
  const status = fold.status(skill.number, at[0], signed);
  if (["not_applicable", "signed_off", "ready"].includes(status)) return null;
  if (fold.skills[skill.number][MET] && status !== "blocked") return null;
  if (status === "blocked" && skill.depends & fold.applicable & ~signed & ~begun) return null;
  let best = null;
  for (const [rung, help] of candidates(course, skill)) {
    const entry = course.planned(skill.skill.key, skill.ladder[rung], help, at);
    if (course.foreseeBuiltin(entry).length) continue;
    const first = brokenBy(course, entry);
    if (best === null || first.length < best.first.length) {
      best = new Step(skill.skill.key, skill.ladder[rung], help, why(course, skill, rung, at), first);
    }
    if (!first.length) break;
  }
  return best;
}

// How far the evidence is, after what keeps it from going further: a rung that was not safe yet, or a rule.
function why(course, skill, rung, at) {
  const [highest, help] = aimOf(course, skill);
  const howFar = evidence(course.fold, skill);
  if (rung < highest) { // it was safe there already
    const aim = course.planned(skill.skill.key, skill.ladder[highest], help, at);
    const [number] = course.foreseeBuiltin(aim);
    if (number !== undefined) return `${doFirst(course, aim, number)} ${howFar}`;
  }
  const asked = skill.stages[course.fold.skills[skill.number][STAGE]].rung;
  return rung >= asked ? howFar : `A safe attempt ${said(skill.ladder[rung])} comes first. ${howFar}`;
}

// The rung that the stage asks for, as far as allowed, and the help that it is tried with.
function aimOf(course, skill) {
  const helps = course.protocol.help;
  const state = course.fold.skills[skill.number];
  const asked = skill.skill.criterion(course.fold.plan.both).stages[state[STAGE]].help;
  return [Math.min(state[ALLOWED], skill.stages[state[STAGE]].rung), asked ?? helps[Math.max(helps.length - 2, 0)]];
}

// Rungs from the one that is aimed at back to the first; then the same with somebody at hand, as what is learnt or waits in the
// bars climbs there too.
function candidates(course, skill) {
  const helps = course.protocol.help;
  const [highest, help] = aimOf(course, skill);
  const atHand = helps[Math.min(1, helps.length - 1)];
  const down = (given) => Array.from({ length: highest + 1 }, (_, back) => [highest - back, given]);
  return [...new Set([help, atHand])].flatMap(down);
}

/**
 * What must be checked or done before anything: open falls, a gap, and each rule of the document that even the safest
 * attempt of a skill in reach would break now.
 * @param {Course} course
 * @param {[number, number, string]} at microseconds, day, text
 * @returns {CheckFirst[]}
 */
export function checkFirst(course, at) {
  const { fold } = course;
  const found = [...fold.falls.values()].filter(([, , seen]) => seen !== CLEARED).map((fall) => fallFirst(fold, fall));
  if (fold.isGap(at[1])) {
    const anew = "What is not signed off, or no longer current, begins anew.";
    const sentence = `More than ${fold.plan.gapDays} days since the last attempt. ${BUILTINS[GAP].doFirst} ${anew}`;
    found.push(new CheckFirst("gap", sentence));
  }
  const rules = [...course.protocol.rules.values()];
  return [...found, ...inOrder(brokenAnyway(course, at)).map((number) => new CheckFirst(rules[number].key, rules[number].sentence))];
}

// The numbers of the document's rules that the safest attempt of a skill in reach would break.
function brokenAnyway(course, at) {
  const { fold } = course;
  const [broken, seen] = [new Set(), new Set()];
  const signed = fold.signedAt(at[0]);
  for (const skill of fold.plan.skills) {
    const inReach = fold.skills[skill.number][TRIED] || !(skill.depends & fold.applicable & ~signed);
    if (!inReach || !(fold.applicable & skill.bit)) continue;
    const entry = course.planned(skill.skill.key, skill.ladder[0], course.protocol.help[0], at);
    const view = course.seenAs(entry);
    if (seen.has(view)) continue;
    seen.add(view);
    for (const number of course.foresee(entry)) broken.add(number);
  }
  return broken;
}

// What an open fall holds back, how far and until when: a reader must take it neither for every skill nor for none.
function fallFirst(fold, [number, at, seen]) {
  const { plan } = fold;
  const held = (number < 0 ? plan.everything : plan.fallsWith[number]) & fold.applicable & ~plan.seated;
  let [found, until, rest] = ["has not been reviewed", "Only in the bars with somebody at hand until it is reviewed", ""];
  if (seen === NOT_CLEARED) [found, until] = ["was reviewed and is not cleared", "Not tried until a later review clears it"];
  else if (!(held & plan.inBars)) until = "Not tried until it is reviewed";
  else if (held & ~plan.inBars) rest = " What is not done in the bars is not tried until then.";
  let what = "every skill that is not done seated.";
  if (number >= 0) {
    what = `${plan.skills[number].skill.title} and all that builds on it.`;
    rest += ` ${NOT_HELD_BACK}`;
  }
  return new CheckFirst("fall_review", `The fall of ${dayOf(at)} ${found}. ${until}: ${what}${rest}`);
}
