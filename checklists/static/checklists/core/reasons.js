// Every skill's status with its reasons in plain words (SEMANTICS.md §5).

import { ALLOWED, CLEARED, DAYS, FELL, MET, NOT_CLEARED, RUN, RUNGS, SIGNED, STAGE, TRIED } from "./fold.js";
import { FEATURES } from "./kinds.js";
import { dayOf, days, listed, said, utc } from "./words.js";

const FELL_BACK = new Map([
  ["gap", "there was a long time without an attempt"],
  ["unsafe", "two attempts close together were unsafe"],
  ["fall", "there was a fall"],
  ["withdrawn", "the sign-off was withdrawn"],
  ["knee", "the knee was exchanged"],
  ["footwear", "the footwear was changed"],
]);

// A skill at an instant. `stage` counts from 0; `support` and `help` are what the stage asks for (help null: any);
// `allowed` is the rung with the least support that may be tried; instants are texts, `lapsesAt` in UTC.
export class SkillStatus {
  /**
   * @param {{status: string, reasons: string[], stage: number, stages: number, support: string, help: string | null,
   *   run: number, inARow: number, days: number, daysNeeded: number, met: boolean, tried: boolean, allowed: string,
   *   provenRungs: Map<string, [string, string]>, signedAt: string | null, signedBy: string | null,
   *   lapsesAt: string | null, fellBackAt: string | null, fellBackOn: string | null, missing: string[],
   *   openFalls: string[]}} parts
   */
  constructor(parts) {
    Object.assign(this, parts);
  }
}

/**
 * The status of every skill, in the document's order.
 * @param {Fold} fold
 * @param {number} at in microseconds
 * @returns {Map<string, SkillStatus>}
 */
export function statuses(fold, at) {
  const current = fold.signedAt(at);
  return new Map(fold.plan.skills.map((skill) => [skill.skill.key, status(fold, skill, at, current)]));
}

/**
 * The status of one skill with all that a reader asks about it; `current` is the mask of what is signed off.
 * @param {Fold} fold
 * @param {PlannedSkill} skill
 * @param {number} at in microseconds
 * @param {bigint} current
 */
export function status(fold, skill, at, current) {
  const state = fold.skills[skill.number];
  const word = fold.status(skill.number, at, current);
  const stage = skill.stages[state[STAGE]];
  const asks = skill.skill.criterion(fold.plan.both).stages[state[STAGE]];
  const missing = fold.plan.members(skill.depends & fold.applicable & ~current).map((one) => one.skill.key);
  const falls = openFalls(fold, skill);
  const signed = state[SIGNED];
  const [fellBackAt, fellBackOn] = state[FELL] ?? [null, null];
  const lapses = signed && skill.valid !== null ? utc(signed[0] + skill.valid) : null;
  return new SkillStatus({
    status: word,
    reasons: reasonsFor(word, fold, skill, missing, falls, lapses),
    stage: state[STAGE],
    stages: skill.stages.length,
    support: asks.support,
    help: asks.help,
    run: state[MET] ? stage.inARow : state[RUN],
    inARow: stage.inARow,
    days: state[MET] ? stage.days : state[DAYS].length,
    daysNeeded: stage.days,
    met: Boolean(state[MET]),
    tried: Boolean(state[TRIED]),
    allowed: allowedRung(skill, state[ALLOWED]),
    provenRungs: new Map([...state[RUNGS]].map(([rung, [seen, by]]) => [skill.ladder[Number(rung)], [seen, by]])),
    signedAt: signed ? signed[1] : null,
    signedBy: signed ? signed[2] : null,
    lapsesAt: lapses,
    fellBackAt,
    fellBackOn,
    missing,
    openFalls: falls,
  });
}

// The rung of a ladder with this number; past its end the last.
export const allowedRung = (skill, allowed) => skill.ladder[Math.min(allowed, skill.ladder.length - 1)];

function openFalls(fold, skill) {
  if (!(fold.openFalls & skill.counts)) return [];
  const counts = (of) => (of < 0 ? fold.plan.noSkill : 1n << BigInt(of)) & skill.counts;
  return [...fold.falls].filter(([, [of, , seen]]) => seen !== CLEARED && counts(of)).map(([id]) => id);
}

function reasonsFor(word, fold, skill, missing, falls, lapses) {
  if (word === "not_applicable") return [aboutFeatures(fold, skill)];
  const state = fold.skills[skill.number];
  const saidFirst = [];
  if (word === "suspended" || word === "lapsed" || word === "signed_off") {
    saidFirst.push(aboutSignOff(word, state, lapses));
    if (word === "signed_off") return saidFirst;
  }
  if (missing.length) saidFirst.push(aboutMissing(fold, missing));
  saidFirst.push(...falls.map((id) => aboutFall(fold.falls.get(id))));
  if (word === "training" && state[FELL] && !state[RUN]) {
    saidFirst.push(`Began anew on ${dayOf(state[FELL][0])}: ${why(state[FELL][1])}.`);
  }
  return [...saidFirst, evidence(fold, skill)];
}

const aboutFeatures = (fold, skill) => `The knee, as recorded, lacks: ${listed(lackingFeatures(fold, skill))}.`;

function lackingFeatures(fold, skill) {
  const lacks = skill.needs & ~(fold.features[0] & fold.features[1]);
  return FEATURES.filter((_, bit) => (lacks >> bit) & 1).map((feature) => feature.replaceAll("_", " "));
}

function aboutSignOff(word, state, lapses) {
  const [, at, by] = state[SIGNED];
  const signed = `Signed off on ${dayOf(at)} by ${by}`;
  if (word === "suspended") {
    const [when, cause] = state[FELL];
    return `${signed}; on ${dayOf(when)} ${why(cause)}, so it must be proven again.`;
  }
  if (lapses === null) return `${signed}.`;
  return `${signed}; ${word === "lapsed" ? "lapsed on" : "valid until"} ${dayOf(lapses)}.`;
}

const NAMED = 3; // more prerequisites than this are counted: a reader wants the next ones, not all that follow

function aboutMissing(fold, missing) {
  const titles = missing.map((key) => fold.plan.skills[fold.plan.number.get(key)].skill.title);
  const more = titles.length - NAMED;
  return `Not yet signed off, or no longer current: ${titles.slice(0, NAMED).join("; ")}${more > 0 ? `; and ${more} more` : ""}.`;
}

function aboutFall([, at, seen]) {
  if (seen === NOT_CLEARED) return `The fall of ${dayOf(at)} was reviewed and is not cleared.`;
  return `The fall of ${dayOf(at)} waits for its review.`;
}

const why = (cause) => FELL_BACK.get(cause) ?? `the ${cause} was changed`;

/**
 * How far the evidence is: '2 of 3 safe attempts in a row; one more day needed'.
 * @param {Fold} fold
 * @param {PlannedSkill} skill
 */
export function evidence(fold, skill) {
  const state = fold.skills[skill.number];
  if (state[MET]) return state[SIGNED] ? "Proven again: may be signed." : "Proven: may be signed.";
  const stage = skill.stages[state[STAGE]];
  const run = Math.min(state[RUN], stage.inARow); // more than are asked for, on too few days, are not '3 of 2'
  let words = `${run} of ${stage.inARow} safe attempts in a row`;
  const short = stage.days - state[DAYS].length;
  if (stage.days > 1 && short > 0 && state[RUN]) words += `; ${days(short)} needed`;
  else if (stage.days > 1 && !state[RUN]) words += `, on ${stage.days} days`;
  return `${words} ${asked(skill, stage, state[STAGE])}.`;
}

function asked(skill, stage, number) {
  const support = said(skill.ladder[stage.rung]);
  return skill.stages.length > 1 ? `(${support}, stage ${number + 1} of ${skill.stages.length})` : `(${support})`;
}

/**
 * What a sign-off would lack, one sentence each.
 * @param {Fold} fold
 * @param {PlannedSkill} skill
 * @param {number} at in microseconds
 * @param {string[]} lacks words of builtin.js `lacking`
 */
export function signOffLacks(fold, skill, at, lacks) {
  const missing = fold.plan.members(fold.missing(skill.depends, at)).map((one) => one.skill.key);
  const sentences = new Map([
    ["feature", aboutFeatures(fold, skill)],
    ["evidence", `The evidence is not complete: ${evidence(fold, skill)}`],
    ["prerequisite", aboutMissing(fold, missing)],
    ["fall", openFalls(fold, skill).map((id) => aboutFall(fold.falls.get(id))).join(" ")],
    ["gap", `There was no attempt for more than ${fold.plan.gapDays} days.`],
  ]);
  return lacks.map((word) => sentences.get(word));
}
