// What follows from the server's state and the facts that it does not have yet.

import { inOrder } from "./entries.js";
import { carriedOn } from "./knees.js";

// Facts that the server does not have yet.
export function waiting(state) {
  return state.kept.filter((row) => row.state === "waiting").map((row) => row.entry);
}

// Facts that the state last asked for does not show yet, whether the server has taken them meanwhile or not.
function unshown(state) {
  const shown = new Set(state.server.facts.map((fact) => fact.entry.id));
  const good = (row) => ["waiting", "accepted", "repeated"].includes(row.state) && !shown.has(row.id);
  return state.kept.filter(good).map((row) => row.entry);
}

function unstruck(entries) {
  const struck = new Set(entries.filter((entry) => entry.kind === "struck_out").map((entry) => entry.entry));
  return entries.filter((entry) => entry.kind !== "struck_out" && !struck.has(entry.id)).sort(inOrder);
}

export function knees(state) {
  return carriedOn(state.server.knees, unstruck(unshown(state)));
}

// { open, since, startCheck: null | "good" | "bad" }
export function session(state) {
  return unstruck(unshown(state)).reduce((now, entry) => {
    if (entry.kind === "session_opened") return { ...now, open: true, since: entry.at };
    if (entry.kind === "session_closed") return { open: false, since: null, startCheck: null };
    if (entry.kind !== "check" || entry.name !== "start_of_session") return now;
    return { ...now, startCheck: Object.values(entry.steps).includes(false) ? "bad" : "good" };
  }, state.server.session);
}

// The facts of today, newest first: { entry, by, struck, state: sent | waiting | refused, error }
export function facts(state) {
  const here = new Set(state.server.facts.map((fact) => fact.entry.id));
  const local = state.kept
    .filter((row) => !here.has(row.id))
    .map((row) => ({ entry: row.entry, by: row.staffName, struck: null, state: row.state, error: row.error }));
  const all = [...state.server.facts.map((fact) => ({ ...fact, state: "sent" })), ...local];
  const strikes = new Map(local.filter((f) => f.entry.kind === "struck_out" && f.state !== "refused").map((f) => [f.entry.entry, f]));
  return all
    .filter((fact) => fact.entry.kind !== "struck_out" || fact.state === "refused")
    .map((fact) => {
      const strike = strikes.get(fact.entry.id);
      return strike && !fact.struck ? { ...fact, struck: { reason: strike.entry.reason, at: strike.entry.at, by: strike.by } } : fact;
    })
    .sort((a, b) => -inOrder(a.entry, b.entry));
}

export function advice(state) {
  const { chosen, advised } = state;
  if (!chosen.skill || !chosen.support || !chosen.help) return { kind: "none" };
  if (advised.skill !== chosen.skill || advised.facts < state.facts) return { kind: "asking" };
  const given = advised.table?.[chosen.support]?.[chosen.help];
  return given ? { kind: given.allowed ? "allowed" : "against", ...given } : { kind: "missing" };
}
