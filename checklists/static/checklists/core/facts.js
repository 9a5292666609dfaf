// What follows from an entry's shape for the fold, worked out once for each shape and kind of person.

import { bars } from "./document.js";
import { kneesNamed, modeEvent } from "./knee.js";
import { featuresMask } from "./plan.js";

export const [SAFE, STOPPED, UNSAFE] = [0, 1, 2];
export const RESULTS = new Map([["safe", SAFE], ["stopped", STOPPED], ["unsafe", UNSAFE]]);
const DANGERS = ["episode_opened", "fall", "setting_changed", "sign_off_withdrawn"];

// Facts of any other shape: its skill's number or -1, the skills that fall back, the knee's new features. `act` is a step of
// steps.js, or null where the kind changes nothing in the fold.
export class Facts {
  /** @param {Shape} shape @param {Plan} plan @param {Function | null} act */
  constructor(shape, plan, act) {
    const { fields } = shape;
    this.act = act;
    this.skill = shape.skill === null ? -1 : plan.number.get(shape.skill);
    this.mask = 0n;
    this.features = null;
    this.knees = 3;
    this.outcome = fields.get("outcome") ?? null;
    this.mode = modeOf(shape, plan);
    this.dangerous = isDangerous(shape);
    if (shape.kind === "setting_changed") {
      this.mask = plan.bySetting.get(fields.get("setting"));
      this.features = fields.has("features") ? featuresMask(fields.get("features")) : null;
      if (plan.both) this.knees = kneesNamed(fields.get("knee"));
    } else if (shape.kind === "fall") {
      this.mask = shape.skill === null ? 0n : plan.fallsWith[this.skill];
    }
  }
}

// Facts of an attempt: its rung on the person's ladder (-1: off it), and how it stands to every bound.
export class AttemptFacts {
  /** @param {Shape} shape @param {Plan} plan @param {Function} act */
  constructor(shape, plan, act) {
    const { fields } = shape;
    const { words } = plan.protocol;
    const skill = plan.skills[plan.number.get(fields.get("skill"))];
    const help = words.help.indexOf(fields.get("help"));
    const support = fields.get("support");
    this.act = act;
    this.mode = null;
    this.skill = skill.number;
    this.bit = skill.bit;
    this.seated = skill.seated;
    this.prerequisites = skill.depends;
    this.counts = skill.counts;
    this.rung = skill.ladder.indexOf(support);
    this.inBars = bars(words.support).includes(support);
    this.inHand = this.inBars && help < 2;
    this.alone = help === words.help.length - 1;
    this.covered = this.rung >= 0 && this.rung <= skill.covered;
    this.result = RESULTS.get(fields.get("result"));
    this.barred = (fields.get("deviations") ?? []).some((one) => skill.barred.has(one));
    this.stages = skill.stages;
    this.measures = skill.measures;
    this.stageOk = skill.stages.map((stage) => this.rung >= stage.rung && help >= stage.help);
    this.dangerous = this.result === UNSAFE || this.barred;
  }
}

function modeOf(shape, plan) {
  const check = shape.kind === "check" ? plan.protocol.checks.get(shape.fields.get("name")) : null;
  return modeEvent(shape.fields, check?.steps ?? [], check?.perKnee ?? false, plan.both);
}

// Whether striking such an entry out is asked about: `struck_danger` (SEMANTICS.md §4), except for attempts.
function isDangerous({ kind, fields }) {
  if (kind === "check") return [...fields.get("steps").values()].includes(false);
  if (kind === "mode_checked") return !fields.get("ok");
  if (kind === "review") return fields.get("outcome") === "not_cleared";
  return DANGERS.includes(kind);
}
