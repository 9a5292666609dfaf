// What the Floor shows of the record and asks of the core, told from the tablet's own copy of both: the very answers that the
// server gives (checklists/floor/state.py and advice.py), field for field and sentence for sentence.
//
// Nothing here asks a clock: `at` is an instant as the site's clocks write it, since its date decides what is a gap.

import { EntryRefused } from "./errors.js";
import { firstLines } from "./first.js";
import * as instant from "./instant.js";
import { parseEntry } from "./reading.js";
import { asJson } from "./values.js";
import { dayOf, MONTHS } from "./words.js";

const RECENT = 100; // attempts that are looked at for the help of last time
const CLOSED = { open: false, since: null, startCheck: null };

/**
 * The state of an episode as the Floor's page works with it.
 * @param {Episode} episode the fold of the record
 * @param {{at: string, since: string | Date, facts: object[], names: Map<string, string>}} given `at`: now, with the site's
 *   offset; `since`: the instant at which the site's day began; `facts`: all entries of the record as they were sent, in the
 *   order of reception; `names`: staff reference → name
 */
export function floorState(episode, { at, since, facts, names }) {
  const sorted = inOrder(facts);
  const [begins] = instant.of(since);
  const today = sorted.filter(([atUs]) => atUs >= begins).map(([, fact]) => fact);
  const skills = [...episode.statuses(at)].map(([key, status]) => [key, skillSaid(status, names)]);
  return {
    now: at,
    skills: Object.fromEntries(skills),
    knees: episode.knees().map((knee) => ({
      knee: knee.knee, mode: knee.mode, proof: knee.proof, at: knee.at, by: knee.by, by_name: names.get(knee.by) ?? null,
    })),
    next: episode.nextSteps(at).map((step) => ({
      skill: step.skill, support: step.support, help: step.help, why: step.why, first: step.first.map(brokenSaid),
    })),
    check_first: firstLines(episode.checkFirst(at)),
    session: sessionOf(today),
    facts: factsSaid(today, names, new Set(episode.uncounted())),
    help: lastHelp(sorted),
  };
}

// [microseconds, fact], oldest first; what ties stays in the order of reception.
const inOrder = (facts) => facts.map((fact) => [instant.read(fact.at)[0], fact]).sort(([a], [b]) => a - b);

// Each struck fact's id with the strike-out that names it.
const struckBy = (facts) => new Map(facts.filter((fact) => fact.kind === "struck_out").map((fact) => [fact.entry, fact]));

/**
 * Whether a session is open, since when, and how its start check went.
 * @param {object[]} facts today's, oldest first
 * @returns {{open: boolean, since: string | null, startCheck: "good" | "bad" | null}}
 */
export function sessionOf(facts) {
  const struck = struckBy(facts);
  return facts.filter((fact) => !struck.has(fact.id)).reduce((now, fact) => {
    if (fact.kind === "session_opened") return { ...now, open: true, since: fact.at };
    if (fact.kind === "session_closed") return { ...CLOSED };
    if (fact.kind !== "check" || fact.name !== "start_of_session") return now;
    return { ...now, startCheck: Object.values(fact.steps).includes(false) ? "bad" : "good" };
  }, { ...CLOSED });
}

const WORD = /[^\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+/g;

// 'R.A.' of Runa Achterling.
export const initials = (name) => (name.match(WORD) ?? []).map((word) => `${[...word][0]}.`).join("");

function skillSaid(status, names) {
  const reasons = status.reasons.map((reason) => named(reason, status.signedBy ?? "", names));
  const seen = [...status.provenRungs].map(([rung, [at, by]]) => [rung, `${shortDay(at)}, ${initials(names.get(by) ?? by)}`]);
  return {
    status: status.status,
    line: reasons.at(-1) ?? "",
    why: reasons.slice(0, -1),
    cause: status.status === "suspended" ? status.fellBackOn : null,
    short: short(status),
    stage_done: status.stage && !status.run ? [status.stage, status.stages] : null,
    allowed: status.allowed,
    proven: Object.fromEntries(seen),
  };
}

const ISO_DAY = /(?<![\p{L}\p{N}_])[0-9]{4}-[0-9]{2}-[0-9]{2}(?![\p{L}\p{N}_])/gu;

// A reason with its dates in words, and with the name of whoever signed.
function named(reason, signer, names) {
  const dated = reason.replace(ISO_DAY, inWords);
  return dated.replaceAll(` by ${signer}`, () => ` by ${names.get(signer) ?? signer}`);
}

function inWords(day) {
  try {
    instant.readDay(day);
  } catch {
    return day; // a number in somebody's words that only looks like a date
  }
  return dayOf(day).replace(/ 0+(?=[0-9]+$)/, " ");
}

// How far, for a key that is read at arm's length: '2 of 3'.
function short(status) {
  if (status.status === "signed_off" || status.status === "not_applicable" || !status.tried) return "";
  return status.met ? "proven" : `${Math.min(status.run, status.inARow)} of ${status.inARow}`;
}

const shortDay = (at) => `${Number(at.slice(8, 10))} ${MONTHS[Number(at.slice(5, 7)) - 1]}`;

function factsSaid(facts, names, uncounted) {
  const struck = struckBy(facts);
  const name = (by) => names.get(by) ?? by;
  return facts.map((fact) => {
    const strike = struck.get(fact.id);
    const by = strike && { reason: strike.reason, at: strike.at, by: name(strike.by) };
    return { entry: fact, by: name(fact.by), struck: by ?? null, uncounted: uncounted.has(fact.id) };
  });
}

// The help of the last attempt of each skill tried lately.
function lastHelp(sorted) {
  const attempts = sorted.map(([, fact]) => fact).filter((fact) => fact.kind === "attempt");
  return Object.fromEntries(attempts.slice(-RECENT).map((attempt) => [attempt.skill, attempt.help]));
}

const brokenSaid = (one) => ({ rule: one.rule, severity: one.severity, sentence: one.sentence, do_first: one.doFirst });

/**
 * Advice before the fact: what would happen if this skill were tried now, on every rung and with every help of it.
 * @param {Episode} episode the fold, with all that is to count
 * @param {string} skill
 * @param {{at: string, role?: string | null}} given `at`: now, with the site's offset; `role`: of whoever would record it
 * @returns {{[rung: string]: {[help: string]: {allowed: boolean, breaks: object[], counted: Counted | null}}} | null} null: no such skill
 */
export function adviceFor(episode, skill, { at, role = null }) {
  const { plan } = episode.fold;
  if (!plan.number.has(skill)) return null;
  const { ladder } = plan.skills[plan.number.get(skill)];
  const one = (support, help) => {
    const advice = episode.advise(asJson({ skill, support, help }), { at, role });
    return { allowed: advice.allowed, breaks: advice.breaks.map(brokenSaid), counted: advice.counted };
  };
  const helps = episode.protocol.help;
  return Object.fromEntries(ladder.map((rung) => [rung, Object.fromEntries(helps.map((help) => [help, one(rung, help)]))]));
}

/**
 * Fold facts that are not recorded yet, as far as they can be taken one after the other.
 * @param {Episode} episode
 * @param {object[]} pending facts as they wait to be sent
 * @param {{at: string, by: string}} given `at`: now; `by`: the staff reference of whoever recorded them
 */
export function carryOn(episode, pending, { at, by }) {
  for (const fact of pending) {
    const entry = received({ ...fact, by, episode: episode.reference }, episode.protocol, at);
    if (entry && episode.takes(entry)) episode.append(entry);
  }
}

function received(fact, protocol, now) {
  try {
    return parseEntry(fact, protocol, { now });
  } catch (fault) {
    if (fault instanceof EntryRefused) return null;
    throw fault;
  }
}
