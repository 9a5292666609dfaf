// What the Floor's core in JavaScript says of many histories: one JSON question a line on standard input, one answer a line.
// Everything that it is asked is in the question; a process that tests/core_js/test_floor_state.py starts once.

import { stdin, stdout } from "node:process";
import { createInterface } from "node:readline";

import { Episode } from "../../checklists/static/checklists/core/episode.js";
import { BEFORE } from "../../checklists/static/checklists/core/first.js";
import { parse } from "../../checklists/static/checklists/core/json.js";
import { loadProtocol } from "../../checklists/static/checklists/core/protocol.js";
import { parseEntry } from "../../checklists/static/checklists/core/reading.js";
import { adviceFor, carryOn, floorState } from "../../checklists/static/checklists/core/state.js";
import { dayBegan } from "../../checklists/static/checklists/floor/zone.js";
import { told } from "./told.mjs";

let last = { source: null, protocol: null };

function protocolOf(source) {
  if (source !== last.source) last = { source, protocol: loadProtocol(source) };
  return last.protocol;
}

function counted(episode, skill, at) {
  const { protocol, fold: { plan } } = episode;
  const { ladder } = plan.skills[plan.number.get(skill)];
  return [[50, []], [10_000, []], [50, [...protocol.deviations.keys()]]].map(([value, deviations]) => {
    const measures = Object.fromEntries([...protocol.measures.keys()].map((name) => [name, value]));
    return told(episode.advise({ skill, support: ladder[0], help: protocol.help.at(-1), deviations, measures }, { at }).counted);
  });
}

function asked({ at, since, role, pending, by, every, first }, { protocol, reference, entries, facts, names }) {
  const { episode } = Episode.replay(protocol, entries, { reference, at: null });
  if (pending.length) carryOn(episode, pending, { at, by });
  const skills = [...protocol.skills.keys()].filter((_, number) => number >= first && (number - first) % every === 0);
  const advice = Object.fromEntries(skills.map((skill) => [skill, adviceFor(episode, skill, { at, role })]));
  return {
    state: floorState(episode, { at, since, facts, names }),
    advice,
    statuses: told(episode.statuses(at)),
    next: told(episode.nextSteps(at)),
    first: told(episode.checkFirst(at)),
    counted: Object.fromEntries(skills.map((skill) => [skill, counted(episode, skill, at)])),
    closed: role ? episode.closedTo(role, at) : [],
    knees: told(episode.knees()),
    lacks: Object.fromEntries([...protocol.skills.keys()].map((skill) => [skill, episode.signOffBlockers(skill, at)])),
  };
}

const ASKED = {
  episode({ document, reference, facts, names, moments }) {
    const protocol = protocolOf(document);
    const entries = facts.map((fact) => parseEntry(parse(fact), protocol));
    const given = { protocol, reference, entries, facts: facts.map((fact) => JSON.parse(fact)), names: new Map(Object.entries(names)) };
    return moments.map((moment) => asked(moment, given));
  },
  before: () => Object.fromEntries(BEFORE),
  days: ({ instants, zone }) => instants.map((instant) => dayBegan(new Date(instant), zone).toISOString()),
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
