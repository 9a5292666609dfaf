// Replay: lines of a history in, one report an episode out (SEMANTICS.md §7).

import { Episode } from "./episode.js";
import { EntryRefused } from "./errors.js";
import { parseLine } from "./json.js";
import { Reader } from "./reader.js";
import { otherContent, Refused } from "./record.js";
import { compareTexts } from "./texts.js";
import { written } from "./written.js";

// What was received of one episode, with the number of each line.
class Received {
  constructor() {
    this.entries = [];
    this.lines = [];
    this.refused = []; // [number of the line, Refused]
  }
}

/**
 * Reports, in order of the episode's reference.
 * @param {Protocol} protocol
 * @param {Iterable<Uint8Array | string>} lines
 * @param {Date | string | null} at
 * @param {{reportLine: (number: number, why: string) => void}} hooks hears of every line that is no entry of any episode
 */
export function* replayLines(protocol, lines, at, { reportLine }) {
  const episodes = receive(protocol, lines, reportLine);
  for (const reference of [...episodes.keys()].sort(compareTexts)) {
    yield report(protocol, reference, episodes.get(reference), at);
    episodes.delete(reference);
  }
}

/**
 * The report on one episode, with names and order as SEMANTICS.md §7 shows them.
 * @returns {{episode: string, at: string | null, alerts: object[], skills: Map<string, string>, refused: object[]}}
 */
export function report(protocol, reference, received, at) {
  const replayed = Episode.replay(protocol, received.entries, { reference, at });
  const refused = replayed.refused.map((one, i) => [received.lines[replayed.refusedAt[i]] ?? Infinity, one]);
  const inOrder = [...received.refused, ...refused].sort(([a], [b]) => (a === b ? 0 : a - b));
  return {
    episode: reference,
    at: replayed.at,
    alerts: replayed.alerts.map((one) => ({ rule: one.rule, entry: one.entry, at: one.at, severity: one.severity })),
    skills: replayed.episode.statusWords(replayed.at),
    refused: inOrder.map(([, one]) => ({ entry: one.entry, error: one.error })),
  };
}

function receive(protocol, lines, reportLine) {
  const [episodes, known] = [new Map(), new Map()];
  const reader = new Reader(protocol);
  let number = 0;
  for (const line of lines) {
    number += 1;
    const obj = parseLine(line);
    const reference = obj instanceof Map ? obj.get("episode") : null;
    if (typeof reference !== "string") {
      reportLine(number, "is not a JSON object with a text `episode`");
      continue;
    }
    if (!episodes.has(reference)) episodes.set(reference, new Received());
    take(episodes.get(reference), reader, obj, number, known);
  }
  return episodes;
}

// One entry among those of its episode; `known`: the first under each id, in whatever episode.
function take(received, reader, obj, number, known) {
  let entry;
  try {
    entry = reader.read(obj);
  } catch (fault) {
    if (!(fault instanceof EntryRefused)) throw fault;
    const name = obj.get("id");
    received.refused.push([number, new Refused(typeof name === "string" ? name : null, fault.message)]);
    return;
  }
  const first = known.get(entry.id);
  if (!first) {
    known.set(entry.id, entry);
    received.entries.push(entry);
    received.lines.push(number);
  } else if (first.episode !== entry.episode || !first.sameAs(entry)) {
    received.refused.push([number, otherContent(entry.id)]);
  }
}

// A report as one JSON line, without the line feed.
export const asLine = (report_) => written(report_);
