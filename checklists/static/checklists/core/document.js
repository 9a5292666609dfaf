// The parts of a protocol document except its rules: words, measures, checks and skills (SEMANTICS.md §2).

import { FEATURES, SETTINGS } from "./kinds.js";
import { Spot } from "./places.js";
import { repr } from "./texts.js";
import { isObject } from "./values.js";
import { ONE_SIDED, RAILS } from "./vocabulary.js";

const TEXTS = ["source", "note"];

// A deviation that an attempt may show.
export class Word {
  constructor(key, title) {
    this.key = key;
    this.title = title;
  }
}

// A number that an attempt may have been measured with.
export class Measure {
  constructor(key, title, unit) {
    this.key = key;
    this.title = title;
    this.unit = unit;
  }
}

// A checklist with its steps in order; `perKnee`: whoever has two knees must be asked which.
export class Check {
  constructor(key, title, steps, perKnee) {
    this.key = key;
    this.title = title;
    this.steps = steps;
    this.perKnee = perKnee;
  }
}

// A stage of the evidence: so many attempts in a row, on so many days, on this support or less; help null: any.
export class Stage {
  constructor(support, inARow, days, help) {
    this.support = support;
    this.inARow = inARow;
    this.days = days;
    this.help = help;
  }
}

// When a skill is proven: its stages in order, what must not be seen, and measures that must lie in a range.
export class Proven {
  /** @param {Stage[]} stages @param {string[]} barred @param {Map<string, [number | null, number | null]>} measures */
  constructor(stages, barred, measures) {
    this.stages = stages;
    this.barred = barred;
    this.measures = measures;
  }
}

// A skill as the document has it; `bothRungs` and `bothProven` are those of a person with two prostheses.
export class Skill {
  /**
   * @param {{key: string, title: string, after: string[], needs: string[], tags: string[], rungs: string[],
   *   proven: Proven, bothRungs: string[], bothProven: Proven, fallsBackOn: string[], validDays: number | null,
   *   watch: string[]}} parts
   */
  constructor(parts) {
    this.key = parts.key;
    this.title = parts.title;
    this.after = parts.after;
    this.needs = parts.needs;
    this.tags = parts.tags;
    this.rungs = parts.rungs;
    this.proven = parts.proven;
    this.bothRungs = parts.bothRungs;
    this.bothProven = parts.bothProven;
    this.fallsBackOn = parts.fallsBackOn;
    this.validDays = parts.validDays;
    this.watch = parts.watch;
  }

  // The rungs that hold for a person, most support first.
  ladder(both) {
    return both ? this.bothRungs : this.rungs;
  }

  // What must be shown by a person with one prosthesis, or with two.
  criterion(both) {
    return both ? this.bothProven : this.proven;
  }
}

/**
 * Objects by their key, refusing a key that is used twice; the reader checks the rest of each.
 * @template T
 * @param {Spot | undefined} spot
 * @param {(item: Spot) => T} read
 * @returns {Map<string, T>}
 */
export function keyed(spot, read) {
  const found = new Map();
  for (const item of spot ? spot.items() : []) {
    const value = read(item);
    const key = item.at("key");
    if (found.has(key.value)) key.refuse(`${repr(key.value)} is used twice`);
    found.set(key.value, value);
  }
  return found;
}

// Check the optional texts for people.
export function texts(parts) {
  for (const name of TEXTS) parts.get(name)?.text();
}

// The deviations.
export const readWords = (spot) => keyed(spot, (item) => {
  const parts = item.fields(["key", "title"], TEXTS);
  texts(parts);
  return new Word(parts.get("key").text(), parts.get("title").text());
});

// The measures with their units.
export const readMeasures = (spot) => keyed(spot, (item) => {
  const parts = item.fields(["key", "title", "unit"], TEXTS);
  texts(parts);
  return new Measure(parts.get("key").text(), parts.get("title").text(), parts.get("unit").text());
});

// The checklists.
export const readChecks = (spot) => keyed(spot, (item) => {
  const parts = item.fields(["key", "title", "steps"], ["per_knee", ...TEXTS]);
  texts(parts);
  const perKnee = parts.has("per_knee") ? parts.get("per_knee").flag() : false;
  return new Check(parts.get("key").text(), parts.get("title").text(), parts.get("steps").words(null, "", { once: true }), perKnee);
});

// The skills, their prerequisites known and without a circle.
export function readSkills(spot, words) {
  const skills = keyed(spot, (item) => readSkill(item, words));
  const items = spot ? spot.items() : [];
  const places = new Map([...skills.keys()].map((key, index) => [key, items[index]]));
  for (const [key, skill] of skills) {
    if (skill.after.length) places.get(key).at("after").words(skills, "skill");
  }
  for (const key of skills.keys()) {
    if (reached(key, skills).has(key)) places.get(key).at("after").refuse(`the prerequisites of ${repr(key)} make a circle`);
  }
  return skills;
}

/**
 * The parallel bars: the first two of a document's `support` (SEMANTICS.md §4, in hand).
 * @param {string[]} support
 * @returns {string[]}
 */
export const bars = (support) => support.slice(0, 2);

/**
 * All skills on which this one depends: that `after` reaches, directly or through others (SEMANTICS.md §5).
 * @returns {Set<string>}
 */
export function reached(key, skills) {
  const found = new Set();
  const open = [...skills.get(key).after];
  while (open.length) {
    const one = open.pop();
    if (found.has(one)) continue;
    found.add(one);
    open.push(...skills.get(one).after);
  }
  return found;
}

const SKILL_REQUIRED = ["key", "title", "rungs", "proven"];
const SKILL_OPTIONAL = ["after", "needs", "tags", "both", "falls_back_on", "valid_days", "watch", ...TEXTS];

function readSkill(spot, words) {
  const parts = spot.fields(SKILL_REQUIRED, SKILL_OPTIONAL);
  texts(parts);
  const rungs = readRungs(parts.get("rungs"), words.support);
  const proven = readProven(parts.get("proven"), rungs, words);
  const [bothRungs, bothProven] = readBoth(spot, parts, rungs, proven, words);
  const list = (name, ...known) => (parts.has(name) ? parts.get(name).words(...known) : []);
  return new Skill({
    key: parts.get("key").text(),
    title: parts.get("title").text(),
    after: list("after"),
    needs: list("needs", FEATURES, "feature"),
    tags: list("tags"),
    rungs,
    proven,
    bothRungs,
    bothProven,
    fallsBackOn: list("falls_back_on", SETTINGS, "setting"),
    validDays: parts.has("valid_days") ? parts.get("valid_days").integer(1) : null,
    watch: parts.has("watch") ? parts.get("watch").items().map((item) => item.text()) : [],
  });
}

function readRungs(spot, order) {
  const rungs = spot.words(order, "rung", { once: true });
  if (!rungs.length) spot.refuse("must not be empty");
  const places = rungs.map((rung) => order.indexOf(rung));
  if (places.some((place, i) => i > 0 && place < places[i - 1])) {
    spot.refuse("must run from most to least support, in the order of `support`");
  }
  return rungs;
}

// The rungs and the criterion of a person with two prostheses, for whom neither rail is that of a side.
function readBoth(spot, parts, rungs, proven, words) {
  const inner = parts.has("both") ? parts.get("both").fields([], ["rungs", "proven"]) : new Map();
  if (parts.has("both") && !inner.size) parts.get("both").refuse("must replace rungs, proven or both of them");
  let own = rungs;
  if (inner.has("rungs")) own = readBothRungs(inner.get("rungs"), words.support);
  else if (rungs.some((rung) => ONE_SIDED.includes(rung))) {
    new Spot(null, `${spot.place}.both`).refuse(
      "a rail of one side needs `both.rungs`: what a person with two prostheses uses in its place",
    );
  }
  if (inner.has("proven")) return [own, readProven(inner.get("proven"), own, words)];
  if (inner.has("rungs")) return [own, readProven(parts.get("proven"), own, words)];
  return [own, proven];
}

function readBothRungs(spot, support) {
  const order = support.flatMap((word) => (word === ONE_SIDED[0] ? [...RAILS, word] : [word]));
  const rungs = readRungs(spot, order);
  for (const item of spot.items()) {
    if (ONE_SIDED.includes(item.value)) {
      item.refuse(`${repr(item.value)} is the rail of one side; a person with two prostheses has both_rails, one_rail`);
    }
  }
  return rungs;
}

const STAGE_REQUIRED = ["support", "in_a_row"];
const STAGE_OPTIONAL = ["days", "help"];

function readProven(spot, rungs, words) {
  const beside = ["barred", "measures"];
  let parts;
  let stages;
  if (isObject(spot.value) && spot.value.has("stages")) {
    parts = spot.fields(["stages"], beside);
    stages = parts.get("stages").items().map((item) => readStage(item.fields(STAGE_REQUIRED, STAGE_OPTIONAL), rungs, words));
    if (!stages.length) parts.get("stages").refuse("must not be empty");
  } else {
    parts = spot.fields(STAGE_REQUIRED, [...STAGE_OPTIONAL, ...beside]);
    stages = [readStage(parts, rungs, words)];
  }
  return new Proven(
    stages,
    parts.has("barred") ? parts.get("barred").words(words.deviations, "deviation") : [],
    parts.has("measures") ? parts.get("measures").ranges(words.measures) : new Map(),
  );
}

function readStage(parts, rungs, words) {
  return new Stage(
    parts.get("support").choice(rungs, "rung of this skill"),
    parts.get("in_a_row").integer(1),
    parts.has("days") ? parts.get("days").integer(1) : 1,
    parts.has("help") ? parts.get("help").choice(words.help, "help") : null,
  );
}
