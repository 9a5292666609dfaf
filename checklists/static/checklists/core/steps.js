// What each kind of entry does to the fold, and which built-in rules it breaks (SEMANTICS.md §4 and §5).
//
// Each step returns the numbers of the built-in rules that the entry breaks, judged just before it.

import { inside } from "./atom.js";
import { judgeAttempt, judgeSignOff } from "./builtin.js";
import { SAFE, STOPPED, UNSAFE } from "./facts.js";
import {
  ALLOWED, beginEvidence, CLEARED, DAYS, FELL, MET, NOT_CLEARED, RECENT, RUN, RUNGS, SIGNED, STAGE, SUSPENDED, TRIED, UNCOUNTED,
  UNSEEN,
} from "./fold.js";
import { featuresMask } from "./plan.js";

const NONE = Object.freeze([]);

/**
 * An attempt: a gap comes just before it; then it is judged; then it counts.
 * @param {Fold} fold
 * @param {Entry} entry
 * @param {AttemptFacts} facts
 * @returns {readonly number[]}
 */
export function attempt(fold, entry, facts) {
  if (entry.atUs >= fold.nextLapse) fold.lapse(entry.atUs);
  const signed = fold.signed & fold.applicable;
  let gap = false;
  if (!facts.seated) {
    gap = fold.isGap(entry.day);
    fold.lastTry = entry.day;
    if (gap) fold.fallBack(fold.plan.everything & ~signed & ~fold.plan.seated, entry.at, "gap");
  }
  const state = fold.skills[facts.skill];
  const off = facts.rung < 0 || facts.rung > state[ALLOWED];
  const broken = judgeAttempt(fold, facts, signed, off, gap);
  state[TRIED] = 1;
  const counts = count(state, entry, facts, off);
  if (facts.result === SAFE) {
    if (!counts && !UNCOUNTED.includes(fold.status(facts.skill, entry.atUs, signed))) fold.leaveUncounted(entry.id, entry.day);
    if (!off && !facts.barred) climb(state, entry, facts);
  } else if (facts.result === UNSAFE) {
    slip(fold, state, entry, facts);
  }
  if (facts.result !== STOPPED) state[RECENT] = ((state[RECENT] << 1) | Number(facts.result === UNSAFE)) & 7;
  return broken;
}

// The evidence: the four steps of SEMANTICS.md §5. Whether it counted, or is met already.
function count(state, entry, facts, off) {
  if (facts.result === UNSAFE || facts.barred) {
    interrupt(state);
    return false;
  }
  if (facts.result === STOPPED || off || !facts.stageOk[state[STAGE]]) return Boolean(state[MET]);
  if (facts.measures.length) {
    const taken = entry.get("measures");
    if (facts.measures.some(([name]) => !taken.has(name))) return Boolean(state[MET]);
    if (!facts.measures.every(([name, [low, high]]) => inside(taken.get(name), low, high))) {
      interrupt(state);
      return false;
    }
  }
  if (!state[MET]) further(state, entry, facts);
  return true;
}

// One more attempt in the row; a stage that is complete gives way to the next, and after the last the evidence is met.
function further(state, entry, facts) {
  const stage = facts.stages[state[STAGE]];
  state[RUN] += 1;
  // more days than are asked for need no memory
  if (!state[DAYS].includes(entry.day) && state[DAYS].length < stage.days) state[DAYS].push(entry.day);
  if (state[RUN] < stage.inARow || state[DAYS].length < stage.days) return;
  if (state[STAGE] + 1 < facts.stages.length) state[STAGE] += 1;
  else state[MET] = 1;
  state[RUN] = 0;
  state[DAYS] = [];
}

// Run 0 and no days; the stage stays, and evidence that was met begins its last stage anew.
function interrupt(state) {
  state[RUN] = 0;
  state[MET] = 0;
  if (state[DAYS].length) state[DAYS] = [];
}

// A safe attempt on an allowed rung: the next one is allowed.
function climb(state, entry, facts) {
  state[RUNGS].set(String(facts.rung), [entry.at, entry.by]);
  if (state[ALLOWED] <= facts.rung) state[ALLOWED] = facts.rung + 1;
}

// An unsafe attempt: a rung back; with another among the three before it, a fall-back event.
function slip(fold, state, entry, facts) {
  state[ALLOWED] = Math.min(state[ALLOWED], Math.max(facts.rung - 1, 0));
  if (state[RECENT]) fold.fallBack(facts.bit, entry.at, "unsafe");
}

// A fall: the skill and all that depends on it fall back; of no skill: every one begins on its first rung.
function fall(fold, entry, facts) {
  fold.falls.set(entry.id, [facts.skill, entry.at, UNSEEN]);
  fold.countFall(facts.skill, UNSEEN, 1);
  if (facts.skill >= 0) fold.fallBack(facts.mask, entry.at, "fall");
  else for (const state of fold.skills) state[ALLOWED] = 0;
  return NONE;
}

// A review says of the falls that it names, and that came before it, whether they are cleared.
function review(fold, entry, facts) {
  const says = facts.outcome === "cleared" ? CLEARED : NOT_CLEARED;
  for (const one of entry.get("of")) {
    const fallen = fold.falls.get(one);
    if (!fallen) continue;
    const [skill, , seen] = fallen;
    fold.countFall(skill, seen, -1);
    fold.countFall(skill, says, 1);
    fallen[2] = says;
  }
  return NONE;
}

// A change of setting or component: what depends on it falls back; another knee has other features.
function settingChanged(fold, entry, facts) {
  fold.fallBack(facts.mask, entry.at, entry.shape.fields.get("setting"));
  if (facts.features !== null) {
    for (const side of [0, 1]) if ((facts.knees >> side) & 1) fold.features[side] = facts.features;
    fold.applicable = fold.plan.applicable(fold.features[0] & fold.features[1]);
  }
  return NONE;
}

// A sign-off stands, whatever it breaks; the evidence begins anew.
function signOff(fold, entry, facts) {
  if (entry.atUs >= fold.nextLapse) fold.lapse(entry.atUs);
  const broken = judgeSignOff(fold, entry, facts);
  const skill = fold.plan.skills[facts.skill];
  const state = fold.skills[facts.skill];
  beginEvidence(state);
  state[SIGNED] = [entry.atUs, entry.at, entry.by];
  state[SUSPENDED] = 0;
  fold.signed |= skill.bit;
  if (skill.valid !== null) fold.nextLapse = Math.min(fold.nextLapse, entry.atUs + skill.valid);
  return broken;
}

// A withdrawal: no sign-off stands, the evidence and the ladder begin anew.
function signOffWithdrawn(fold, entry, facts) {
  const state = fold.skills[facts.skill];
  beginEvidence(state);
  state[ALLOWED] = 0;
  state[SUSPENDED] = 0;
  state[SIGNED] = null;
  state[FELL] = [entry.at, "withdrawn"];
  fold.signed &= ~fold.plan.skills[facts.skill].bit;
  return NONE;
}

// The opening that counts; the plan has been chosen by its side already.
function episodeOpened(fold, entry) {
  const { fields } = entry.shape;
  fold.opening = [entry.id, entry.at, entry.by, fields.get("side")];
  fold.features = [featuresMask(fields.get("features")), featuresMask(fields.get("features"))];
  fold.applicable = fold.plan.applicable(fold.features[0]);
  return NONE;
}

// Kind → its step, apart from `attempt`; the other kinds change nothing in the fold.
export const STEPS = new Map([
  ["fall", fall],
  ["review", review],
  ["setting_changed", settingChanged],
  ["sign_off", signOff],
  ["sign_off_withdrawn", signOffWithdrawn],
  ["episode_opened", episodeOpened],
]);
