// What the core in JavaScript makes of what was dealt (tests/core_js/deck.py), in Node and in a browser alike: what a replay
// prints, and for the deep ones what the Floor would be told and the snapshots, carried on step by step.

import { Episode, loadProtocol, parseEntry, EntryRefused, ProtocolRefused } from "../../checklists/static/checklists/core/core.js";
import { parseLine } from "../../checklists/static/checklists/core/json.js";
import { lines, replay } from "./replayed.mjs";
import { told } from "./told.mjs";

const MOST_ADVICE = 12;
const HOUR = 3_600_000;
const EXACT = 8.8e15; // microseconds
const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
let last = { source: null, protocol: null, refused: null };

// Loading is part of what is compared, but once for the same bytes.
function loaded(source) {
  if (source !== last.source) {
    last = { source, protocol: null, refused: null };
    try {
      last.protocol = loadProtocol(bytes(source));
    } catch (fault) {
      last.refused = fault;
    }
  }
  if (last.refused) throw last.refused;
  return last.protocol;
}

/** @param {{document: string, history: string, at: string | null, deep: boolean}} dealt */
export function compared({ document, history, at, deep }) {
  try {
    const [out, said] = [[], []];
    const status = replay(() => document, () => bytes(history), at, (text) => out.push(text), (text) => said.push(text), loaded);
    return { status, out: out.join(""), said: said.join(""), state: deep ? stateOf(document, bytes(history)) : null };
  } catch (fault) {
    return { failed: fault.stack ?? String(fault) };
  }
}

function stateOf(document, history) {
  try {
    return carried(loaded(document), history);
  } catch (fault) {
    if (fault instanceof ProtocolRefused) return null;
    throw fault;
  }
}

// The facts of the first episode that reading takes, each id once.
function read(protocol, history) {
  const found = new Map();
  for (const line of lines(history)) {
    try {
      const entry = parseEntry(parseLine(line), protocol);
      const first = found.values().next().value ?? entry;
      if (entry.episode === first.episode && !found.has(entry.id)) found.set(entry.id, entry);
    } catch (fault) {
      if (!(fault instanceof EntryRefused)) throw fault;
    }
  }
  return [...found.values()];
}

function carried(protocol, history) {
  const entries = read(protocol, history);
  if (!entries.length) return null;
  const { episode: reference } = entries[0];
  const half = Math.floor(entries.length / 2);
  let { episode } = Episode.replay(protocol, entries.slice(0, half), { reference });
  const taken = episode.snapshot();
  episode = Episode.restore(protocol, taken);
  const did = [];
  for (let number = half; number < entries.length; number += 1) {
    if (episode.takes(entries[number])) did.push({ alerts: told(episode.append(entries[number])), met: episode.met });
    else {
      did.push(null);
      ({ episode } = Episode.replay(protocol, entries.slice(0, number + 1), { reference }));
    }
  }
  const fresh = Episode.replay(protocol, entries, { reference }).episode.snapshot();
  return { taken, did, carried: episode.snapshot(), fresh, says: says(episode, moment(entries)) };
}

// An hour after the last of them, in UTC to the millisecond; of those between 1970 and 2248, where doubles are exact.
function moment(entries) {
  const latest = entries.reduce((most, { atUs }) => (atUs > most && atUs < EXACT ? atUs : most), 0);
  return new Date(Math.floor(latest / 1000) + HOUR).toISOString();
}

function says(episode, at) {
  const { plan } = episode.fold;
  const tried = plan.skills.flatMap(({ skill, ladder }) => ladder.flatMap((support) => episode.protocol.help.map((help) => (
    { skill: skill.key, support, help }))));
  const every = Math.ceil(tried.length / MOST_ADVICE);
  const asked = tried.filter((_, number) => number % every === 0);
  return {
    at,
    statuses: told(episode.statuses(at)),
    words: told(episode.statusWords(at)),
    knees: told(episode.knees()),
    next: told(episode.nextSteps(at)),
    first: told(episode.checkFirst(at)),
    deadlines: told(episode.deadlines()),
    changes: episode.changesAt(at),
    lacks: plan.keys.map((key) => episode.signOffBlockers(key, at)),
    advice: [...asked, { kind: "mode_set", mode: "locked" }].map((planned) => told(episode.advise(planned, { at, role: "assistant" }))),
  };
}
