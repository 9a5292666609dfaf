// The core in JavaScript against JSON.parse of the same lines, and a step after few and after many entries: one JSON line.
// `node core.mjs PROTOCOL.json HISTORY.jsonl LONG.jsonl PAIRS` (checklists/speed/scripts.py)

import { readFileSync } from "node:fs";
import { argv, cpuUsage } from "node:process";

import { Episode, loadProtocol, parseEntry } from "../static/checklists/core/core.js";
import { replayLines } from "../static/checklists/core/replay.js";

const [FEW, MANY, STEPS] = [10, 10_000, 200];
const [WARM, TURNS, AT_ONCE] = [3, 9, 10];
const MINUTE = 60_000;
const [protocolFile, historyFile, longFile, pairs] = argv.slice(2);
const protocol = loadProtocol(readFileSync(protocolFile));
const linesOf = (file) => readFileSync(file, "utf8").split("\n").filter(Boolean);

const median = (all) => [...all].sort((a, b) => a - b)[all.length >> 1];

// Of the processor, not of the clock: what else the machine has to do is not counted.
function seconds(work) {
  const began = cpuUsage();
  work();
  const { user, system } = cpuUsage(began);
  return (user + system) / 1e6;
}

function replayed(lines) {
  let reports = 0;
  for (const report of replayLines(protocol, lines, null, { reportLine: (number, why) => { throw new Error(`line ${number} ${why}`); } })) {
    reports += report.refused.length ? 0 : 1;
  }
  if (!reports) throw new Error("the replay reported nothing");
}

function replays() {
  const lines = linesOf(historyFile);
  const [floors, programs] = [[], []];
  for (let turn = -1; turn < pairs; turn += 1) { // the first turn warms up
    const floor = seconds(() => lines.forEach((line) => JSON.parse(line)));
    const program = seconds(() => replayed(lines));
    if (turn >= 0) {
      floors.push(floor);
      programs.push(program);
    }
  }
  return { lines: lines.length, floor: median(floors), program: median(programs) };
}

// The same attempts after the last of so many entries, each a minute later.
function more(entries) {
  const last = entries.at(-1);
  const begin = entries.reduce((most, { atUs }) => Math.max(most, atUs), 0) / 1000;
  const skill = [...protocol.skills.values()][0];
  return Array.from({ length: STEPS }, (_, number) => parseEntry({
    id: `ffffffff-0000-4000-8000-${String(number).padStart(12, "0")}`,
    episode: last.episode, kind: "attempt", at: new Date(begin + (number + 1) * MINUTE).toISOString(), by: last.by, role: "therapist",
    skill: skill.key, support: skill.rungs[0], help: protocol.help[0], result: "safe",
  }, protocol));
}

// Appending, and restoring with one append, after the first so many of a long record: in turns, so that neither is measured on
// code that is warmer.
function steps(entries) {
  const sizes = [FEW, MANY].map((many) => {
    const record = entries.slice(0, many);
    const snapshot = Episode.replay(protocol, record, { reference: record[0].episode }).episode.snapshot();
    return { snapshot, next: more(record), appends: [], restores: [] };
  });
  for (let turn = -WARM; turn < TURNS; turn += 1) {
    for (const { snapshot, next, appends, restores } of sizes) {
      const some = Array.from({ length: AT_ONCE }, () => Episode.restore(protocol, snapshot));
      const appending = seconds(() => some.forEach((episode) => next.forEach((entry) => episode.append(entry)))) / STEPS / AT_ONCE;
      const restoring = seconds(() => {
        for (let number = 0; number < STEPS; number += 1) Episode.restore(protocol, snapshot).append(next[0]);
      }) / STEPS;
      if (turn >= 0) {
        appends.push(appending);
        restores.push(restoring);
      }
    }
  }
  return sizes.map(({ snapshot, appends, restores }) => (
    { append: median(appends), restore: median(restores), snapshot: snapshot.length }));
}

const long = linesOf(longFile).map((line) => parseEntry(JSON.parse(line), protocol));
if (long.length < MANY) throw new Error(`${long.length} entries are too few`);
const [few, many] = steps(long);
console.log(JSON.stringify({ replay: replays(), few, many }));
