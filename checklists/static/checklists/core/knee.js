// Which mode each knee is in, and whether that was proven: common practice, no source.
//
// The knee does not report its mode; the record knows what staff saw and did. Setting a mode and proving it are two facts.
// The mode is what the last *mode event* says: a setting, a check of the mode, a change of knee (what was known of the old
// one is void), and those checklists that show a mode, listed in MODE_CHECKS and nowhere else.

// How a checklist shows a mode: `steps` are those that show it, null for all of the checklist's. It proves the mode when all
// of them are true and fails when one is false. Otherwise an incomplete one counts as a setting of its mode where `sets`, and
// as nothing where not.
export class ModeCheck {
  /** @param {string} mode @param {string[] | null} steps @param {boolean} sets */
  constructor(mode, steps, sets) {
    this.mode = mode;
    this.steps = steps;
    this.sets = sets;
  }
}

// Checklist → the mode that it shows. A protocol that has other checklists shows modes by `mode_checked` alone.
export const MODE_CHECKS = new Map([
  ["start_of_session", new ModeCheck("walking", ["mode"], false)],
  ["end_of_session", new ModeCheck("walking", ["mode"], false)],
  ["lock_out", new ModeCheck("walking", null, true)],
  ["free_swing_off", new ModeCheck("walking", null, true)],
  ["lock_in", new ModeCheck("locked", null, true)],
  ["free_swing_on", new ModeCheck("free_swing", ["on"], false)],
]);

export const [LEFT, RIGHT] = [1, 2];
const BOTH = LEFT | RIGHT;
const SIDES = new Map([["left", LEFT], ["right", RIGHT]]);

// The bit of the knee that is named; both where none is.
export const kneesNamed = (knee) => SIDES.get(knee) ?? BOTH;

// What an entry says of a knee's mode: proof is `proven`, `set`, `failed`, or null (nothing is known any more).
export class ModeEvent {
  /** @param {string | null} mode @param {string | null} proof @param {number} knees which of two: LEFT, RIGHT or both bits */
  constructor(mode, proof, knees) {
    this.mode = mode;
    this.proof = proof;
    this.knees = knees;
  }
}

// The mode of a knee as the record knows it. `knee` is null for the only one; `mode` null: nothing is known.
export class KneeState {
  constructor(knee, mode, proof, at, by) {
    this.knee = knee;
    this.mode = mode;
    this.proof = proof;
    this.at = at;
    this.by = by;
  }
}

/**
 * What an entry with these fields says; `steps` and `perKnee` are those of its checklist, where it is a check.
 * @param {Map<string, unknown>} fields
 * @param {string[]} steps
 * @param {boolean} perKnee
 * @param {boolean} both
 * @returns {ModeEvent | null}
 */
export function modeEvent(fields, steps, perKnee, both) {
  const kind = fields.get("kind");
  const knee = fields.get("knee") ?? null;
  const knees = both ? kneesNamed(knee) : BOTH;
  const unsaid = both && knee === null;
  if (kind === "mode_set") return new ModeEvent(fields.get("mode"), "set", knees);
  if (kind === "mode_checked") {
    // Of two knees, a check that names none says what was found and proves nothing (SEMANTICS.md §3, 'Two knees').
    const proof = !fields.get("ok") ? "failed" : unsaid ? "set" : "proven";
    return new ModeEvent(fields.get("mode"), proof, knees);
  }
  if (kind === "setting_changed" && fields.get("setting") === "knee") return new ModeEvent(null, null, knees);
  if (kind === "check" && MODE_CHECKS.has(fields.get("name"))) {
    const check = MODE_CHECKS.get(fields.get("name"));
    const found = shown(check, fields.get("steps"), steps);
    const standsInNeither = perKnee && unsaid && ![...fields.get("steps").values()].includes(false);
    if (found && !standsInNeither) return new ModeEvent(check.mode, found, knees);
  }
  return null;
}

function shown(check, done, steps) {
  const asked = check.steps ?? steps;
  if (asked.some((step) => done.get(step) === false)) return "failed";
  if (asked.every((step) => done.get(step) === true)) return "proven";
  return check.sets ? "set" : null;
}
