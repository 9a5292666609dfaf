// The kinds of entries with their fields, and every closed list that the contract itself gives (SEMANTICS.md §1).
//
// This one table serves reading, refusing and the atoms of formulas.

export const FEATURES = ["lock", "free_swing", "yielding", "resistance"];
export const SETTINGS = ["resistance", "alignment", "socket", "foot", "knee", "footwear"];
export const SEVERITIES = ["critical", "major", "minor"];
export const STATUSES = ["not_applicable", "suspended", "lapsed", "signed_off", "blocked", "ready", "training", "open"];

// Field → the values that it may have.
export const CHOICES = new Map([
  ["role", ["clinic_lead", "therapist", "prosthetist", "assistant"]],
  ["side", ["left", "right", "both"]],
  ["knee", ["left", "right"]],
  ["rail", ["left", "right"]],
  ["mode", ["walking", "locked", "free_swing"]],
  ["result", ["safe", "unsafe", "stopped"]],
  ["setting", SETTINGS],
  ["injury", ["none", "minor", "moderate", "serious"]],
  ["outcome", ["cleared", "not_cleared"]],
  ["answer", ["agreed", "declined"]],
  ["features", FEATURES],
]);

// One field of an entry. `type` is text, id, ids, instant, date, number, integer, flag, choice, choices, override,
// measures, or a word of the protocol: skill, support, help, deviations, check, steps.
export class Field {
  /** @param {string} name @param {string} type @param {boolean} required */
  constructor(name, type, required = true) {
    this.name = name;
    this.type = type;
    this.required = required;
    this.choices = CHOICES.get(name) ?? []; // the closed list of the contract, where there is one
  }
}

const must = (name, type) => new Field(name, type);
const may = (name, type) => new Field(name, type, false);

const COMMON = [
  must("id", "id"), must("episode", "text"), must("kind", "kind"), must("at", "instant"), may("seq", "integer"),
  must("by", "text"), may("role", "choice"), may("note", "text"), may("clock_offset_s", "number"),
];
const KNEE = may("knee", "choice");
const SKILL = must("skill", "skill");
const STORY = [may("circumstances", "text"), may("action", "text")];

// Kind → its own fields. The order is that of SEMANTICS.md §1 for kinds that tie in time; the opening stands before all.
export const KINDS = new Map([
  ["episode_opened", [must("side", "choice"), must("features", "choices"), must("protocol", "text")]],
  ["session_opened", []],
  ["setting_changed", [must("setting", "choice"), may("from", "text"), may("to", "text"), may("features", "choices"), KNEE]],
  ["mode_set", [must("mode", "choice"), may("support", "support"), KNEE]],
  ["check", [must("name", "check"), must("steps", "steps"), KNEE]],
  ["mode_checked", [must("mode", "choice"), must("ok", "flag"), KNEE]],
  ["attempt", [
    SKILL, must("support", "rung"), must("help", "help"), must("result", "choice"), may("deviations", "deviations"),
    may("measures", "measures"), may("rail", "choice"), may("began", "instant"), may("despite", "text"),
  ]],
  ["fall", [may("skill", "skill"), must("injury", "choice"), ...STORY]],
  ["near_miss", [may("skill", "skill"), ...STORY]],
  ["review", [may("of", "ids"), may("outcome", "choice"), may("next_due", "date")]],
  ["sign_off", [
    SKILL, may("override", "override"), may("statement", "text"), may("evidence", "text"), may("protocol", "text"),
  ]],
  ["sign_off_withdrawn", [SKILL, may("reason", "text")]],
  ["session_closed", []],
  ["episode_closed", [may("reason", "text")]],
  ["struck_out", [must("entry", "id"), must("reason", "text")]],
  ["correction_requested", [may("entry", "id"), must("text", "text"), must("asked_by", "text")]],
  ["correction_answered", [
    must("request", "id"), must("answer", "choice"), may("struck", "ids"), may("added", "ids"), may("reason", "text"),
  ]],
]);

export const RANK = new Map([...KINDS.keys()].map((kind, place) => [kind, place]));

// Kind → field name → field, the common ones included.
export const FIELDS = new Map(
  [...KINDS].map(([kind, own]) => [kind, new Map([...COMMON, ...own].map((field) => [field.name, field]))]),
);

// Kinds that stand beside the record: no rule, no status and no report's instant sees them (SEMANTICS.md §8).
export const BESIDE = new Set(["correction_requested", "correction_answered"]);
export const UNJUDGED = new Set([...BESIDE, "struck_out"]); // in no rule's sequence
export const WITH_SKILL = new Set([...FIELDS].filter(([, fields]) => fields.has("skill")).map(([kind]) => kind));

/**
 * What SEMANTICS.md §1 fills in for fields that an entry of this kind leaves out.
 * @param {string | null} kind
 * @returns {Map<string, unknown>}
 */
export function defaults(kind) {
  const filled = new Map([["seq", 0]]);
  if (kind === "attempt") filled.set("deviations", []).set("measures", new Map());
  else if (kind === "review") filled.set("of", []);
  else if (kind === "correction_answered") filled.set("struck", []).set("added", []);
  return filled;
}
