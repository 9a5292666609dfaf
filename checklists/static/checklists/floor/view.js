// What is shown, from the state of the record and the facts that are kept here. What facts mean the core says (copy.js): without
// a copy of the record on this device, nothing is guessed.

import { sessionOf } from "../core/state.js";
import { inOrder } from "./entries.js";

const ON_THEIR_WAY = new Set(["waiting", "accepted", "repeated", "sent"]);
const OF_NO_KNEE = new Set(["attempt", "session_opened", "session_closed", "near_miss"]);

// Facts that the server does not have yet.
export function waiting(state) {
  return state.kept.filter((row) => row.state === "waiting").map((row) => row.entry);
}

// Facts that the state does not show, whether the server has taken them meanwhile or not: none where it is this device's own.
function unshown(state) {
  const shown = new Set(state.server.facts.map((fact) => fact.entry.id));
  return state.kept.filter((row) => ON_THEIR_WAY.has(row.state) && !shown.has(row.id)).map((row) => row.entry);
}

// A knee that something was done to since the server last spoke of it is not known.
export function knees(state) {
  if (state.local || unshown(state).every((entry) => OF_NO_KNEE.has(entry.kind))) return state.server.knees;
  return state.server.knees.map((knee) => ({ ...knee, mode: null, proof: null, at: null, by: null, by_name: null }));
}

// { open, since, startCheck: null | "good" | "bad" }
export function session(state) {
  if (state.local) return state.server.session;
  return sessionOf([...state.server.facts.map((fact) => fact.entry), ...unshown(state)].sort(inOrder));
}

// The facts of today, newest first: { entry, by, struck, state: sent | waiting | refused, error }
export function facts(state) {
  const rows = new Map(state.kept.map((row) => [row.id, row]));
  const here = state.server.facts.map((fact) => ({ ...fact, state: rows.get(fact.entry.id)?.state === "waiting" ? "waiting" : "sent" }));
  const shown = new Set(here.map((fact) => fact.entry.id));
  const local = state.kept
    .filter((row) => !shown.has(row.id))
    .map((row) => ({ entry: row.entry, by: row.staffName, struck: null, state: row.state, error: row.error }));
  const strikes = new Map(local.filter((f) => f.entry.kind === "struck_out" && f.state !== "refused").map((f) => [f.entry.entry, f]));
  const early = (fact) => rows.get(fact.entry.id)?.early; // a moment ago, and not on the disk yet
  return [...here, ...local]
    .filter((fact) => !early(fact))
    .filter((fact) => fact.entry.kind !== "struck_out" || fact.state === "refused")
    .map((fact) => {
      const strike = strikes.get(fact.entry.id);
      return strike && !fact.struck ? { ...fact, struck: { reason: strike.entry.reason, at: strike.entry.at, by: strike.by } } : fact;
    })
    .sort((a, b) => -inOrder(a.entry, b.entry));
}

// The next step that whoever records here may take (an assistant not every one).
export const next = (state) => state.server.next.find((step) => step.theirs !== false);

// When the person fell after a knee was proven: today's last fall that stands. What the proof is worth then the core says, not this.
export function fell(state, { proof, at }) {
  if (proof !== "proven") return null;
  const fall = facts(state).find((fact) => fact.entry.kind === "fall" && !fact.struck && fact.state !== "refused")?.entry.at;
  return fall && Date.parse(fall) >= Date.parse(at) ? fall : null;
}

// Whether every knee is proven, and after the last fall: what asked for it asks no more.
export const provenSinceFall = (state) => knees(state).every((knee) => knee.proof === "proven" && !fell(state, knee));

// Since when every knee is proven in walking mode; null where one is not.
export function walksSince(state) {
  const all = knees(state);
  return all.every(({ mode, proof }) => mode === "walking" && proof === "proven") ? all.map(({ at }) => at).sort((a, b) => Date.parse(a) - Date.parse(b)).at(-1) ?? null : null;
}

// Whether the page stands at the start check: not where the session was closed and nobody has begun it `again`.
export const asksStart = (state) => !state.skipped && session(state).startCheck !== "good" && (state.again || !closed(state));

// When the last session of today was closed, where none is open.
export function closed(state) {
  if (session(state).open) return null;
  return facts(state).find((fact) => fact.entry.kind === "session_closed" && !fact.struck && fact.state !== "refused")?.entry.at ?? null;
}

// What keeps the chosen attempt from being counted for the proof, as the core says it (core/counted.js): it begins the row `anew`,
// it asks for another `support` or `help`, or for `measures` that are not taken yet. Null: it counts, or nothing is counted.
export function uncounted(chosen, counted) {
  if (!counted || counted.counts) return null;
  const measures = counted.measures.filter((name) => chosen.measures[name] === undefined);
  return counted.anew || counted.support || counted.help || measures.length ? { ...counted, measures } : null;
}

// What the core says of the chosen skill: { support: { help: advice } }. Null: nothing is known of it; undefined: it was not said
// yet, or, where it is to be `fresh`, before the last facts.
export function tableOf({ advised, chosen, facts }, { fresh = false } = {}) {
  return advised.skill !== chosen.skill || (fresh && advised.facts < facts) ? undefined : advised.table;
}

// What the core says of every help on the chosen support, or whether on any where none is chosen yet: [help, advice], none while
// nothing is known.
export function helpsOf(state) {
  const { support } = state.chosen;
  const table = tableOf(state) ?? {};
  if (support) return Object.entries(table[support] ?? {});
  const rungs = Object.values(table);
  return Object.keys(rungs[0] ?? {}).map((help) => [help, { allowed: rungs.some((given) => given[help].allowed) }]);
}

// Why no support at all is allowed with the help that is chosen, before any is tapped: what the first of them breaks.
export function shutAltogether(state) {
  const { skill, support, help } = state.chosen;
  if (!skill || support) return null;
  const given = Object.values(tableOf(state, { fresh: true }) ?? {}).map((rung) => rung[help]);
  return given.length && given.every((one) => one && !one.allowed) ? given[0].breaks : null;
}

// The newest fact, where it is an attempt of the chosen skill that stands: a repeat beside it is one tap.
export function justTried(state) {
  const { skill, support } = state.chosen;
  const [newest] = skill ? facts(state) : [];
  if (newest?.entry.kind !== "attempt" || newest.struck || newest.state === "refused") return null;
  return newest.entry.skill === skill && (!support || newest.entry.support === support) ? newest : null;
}

export function advice(state) {
  const { skill, support, help } = state.chosen;
  if (!skill || !support || !help) return { kind: "none" };
  const table = tableOf(state, { fresh: true });
  if (table === undefined) return { kind: "asking" };
  const given = table?.[support]?.[help];
  return given ? { kind: given.allowed ? "allowed" : "against", ...given } : { kind: "missing" };
}
