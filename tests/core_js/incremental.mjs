// Episodes of the core in JavaScript, step by step and through snapshots: one JSON question a line on standard input, one
// answer a line; a process that tests/core_js/test_incremental.py starts once.

import { createInterface } from "node:readline";
import { stdin, stdout } from "node:process";

import { Episode, loadProtocol, parseEntry, StaleSnapshot } from "../../checklists/static/checklists/core/core.js";
import { parse } from "../../checklists/static/checklists/core/json.js";
import { told } from "./told.mjs";

let last = { source: null, protocol: null };

function protocolOf(source) {
  if (source !== last.source) last = { source, protocol: loadProtocol(source) };
  return last.protocol;
}

const read = (facts, protocol) => facts.map((fact) => parseEntry(parse(fact), protocol));

function says(episode, { at, role, every = 1 }) {
  const { plan } = episode.fold;
  const tried = plan.skills.flatMap((skill) => skill.ladder.flatMap((support) => episode.protocol.help.map((help) => (
    { skill: skill.skill.key, support, help }
  ))));
  const advice = tried.filter((_, number) => number % every === 0).map((planned) => told(episode.advise(planned, { at, role })));
  return {
    statuses: told(episode.statuses(at)),
    words: told(episode.statusWords(at)),
    knees: told(episode.knees()),
    next: told(episode.nextSteps(at)),
    first: told(episode.checkFirst(at)),
    deadlines: told(episode.deadlines()),
    changes: episode.changesAt(at),
    lacks: plan.keys.map((key) => episode.signOffBlockers(key, at)),
    modes: ["walking", "locked", "free_swing"].map((mode) => told(episode.advise({ kind: "mode_set", mode }, { at, role }))),
    advice,
  };
}

const appended = (episode, entry) => ({ alerts: told(episode.append(entry)), met: episode.met });

const ASKED = {
  // After each fact, in the order of reception: what it did, the state carried on and the state of a fresh replay.
  steps({ document, reference, facts }) {
    const protocol = protocolOf(document);
    const entries = read(facts, protocol);
    let episode = new Episode(protocol, reference);
    return entries.map((entry, number) => {
      const arrived = entries.slice(0, number + 1);
      const taken = !arrived.slice(0, -1).some((one) => one.id === entry.id) && episode.takes(entry);
      const fresh = Episode.replay(protocol, arrived, { reference }).episode;
      const did = taken ? appended(episode, entry) : null;
      if (!taken) episode = fresh;
      return { did, carried: episode.snapshot(), fresh: fresh.snapshot() };
    });
  },

  // A snapshot taken up: written again, then carried on through more facts, then asked.
  restore({ document, snapshot, facts, ...moment }) {
    const protocol = protocolOf(document);
    try {
      const episode = Episode.restore(protocol, snapshot);
      const again = episode.snapshot();
      const did = read(facts, protocol).map((entry) => (episode.takes(entry) ? appended(episode, entry) : null));
      return { again, did, snapshot: episode.snapshot(), says: says(episode, moment) };
    } catch (fault) {
      if (fault instanceof StaleSnapshot) return { stale: fault.message };
      throw fault;
    }
  },
};

function answer(question) {
  try {
    return { said: ASKED[question.ask](question) };
  } catch (fault) {
    return { failed: fault.stack ?? String(fault) };
  }
}

for await (const line of createInterface({ input: stdin, crlfDelay: Infinity })) {
  stdout.write(`${JSON.stringify(answer(JSON.parse(line)))}\n`);
}
