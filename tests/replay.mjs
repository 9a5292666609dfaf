// `node tests/replay.mjs PROTOCOL.json HISTORY.jsonl [--at INSTANT]` prints what `manage.py replay` prints, by the core in
// JavaScript: the same lines, the same refusals, the same exit codes (SEMANTICS.md §7).

import { readFileSync, writeSync } from "node:fs";
import { argv, exit } from "node:process";
import { fileURLToPath } from "node:url";
import { parseArgs } from "node:util";

import { EntryRefused, ProtocolRefused, ValueError } from "../checklists/static/checklists/core/errors.js";
import * as instant from "../checklists/static/checklists/core/instant.js";
import { loadProtocol } from "../checklists/static/checklists/core/protocol.js";
import { asLine, replayLines } from "../checklists/static/checklists/core/replay.js";
import { repr } from "../checklists/static/checklists/core/texts.js";

const [DONE, BAD_INPUT, PROTOCOL_REFUSED] = [0, 1, 2];
const LINE_FEED = 10;
const FAULTS = { ENOENT: "No such file or directory", EISDIR: "Is a directory", EACCES: "Permission denied" };
const USAGE = "usage: node tests/replay.mjs [--at INSTANT] PROTOCOL.json HISTORY.jsonl\n";

/**
 * Replay a history under a protocol.
 * @param {() => Uint8Array} protocol reads the document
 * @param {() => Uint8Array} history reads the lines
 * @param {string | null} at
 * @param {(text: string) => void} out
 * @param {(text: string) => void} complain
 * @returns {number} the exit status
 */
export function replay(protocol, history, at, out, complain) {
  let bad = 0;
  const reportLine = (number, why) => {
    bad += 1;
    complain(`line ${number} ${why}\n`);
  };
  try {
    if (at !== null) instant.read(at);
    const document = loadProtocol(protocol());
    for (const report of replayLines(document, lines(history()), at, { reportLine })) out(`${asLine(report)}\n`);
  } catch (fault) {
    return refused(fault, at, complain);
  }
  return bad ? BAD_INPUT : DONE;
}

function refused(fault, at, complain) {
  if (fault instanceof ProtocolRefused) {
    complain(`protocol refused at ${fault.message}\n`);
    return PROTOCOL_REFUSED;
  }
  if (fault.code in FAULTS) complain(`${fault.path}: ${FAULTS[fault.code]}\n`);
  else if (fault instanceof ValueError && !(fault instanceof EntryRefused)) {
    complain(`--at ${at === null ? "None" : repr(at)} ${fault.message}\n`);
  } else throw fault;
  return BAD_INPUT;
}

// The lines of a file, each with its line feed.
export function* lines(bytes) {
  for (let at = 0; at < bytes.length;) {
    const end = bytes.indexOf(LINE_FEED, at);
    const next = end < 0 ? bytes.length : end + 1;
    yield bytes.subarray(at, next);
    at = next;
  }
}

function file(path) {
  try {
    return readFileSync(path);
  } catch (fault) {
    fault.path = path; // which a directory leaves out
    throw fault;
  }
}

function main() {
  let given;
  try {
    given = parseArgs({ options: { at: { type: "string" } }, allowPositionals: true });
    if (given.positionals.length !== 2) throw new Error("two files are needed: PROTOCOL.json and HISTORY.jsonl");
  } catch (fault) {
    writeSync(2, `${USAGE}${fault.message}\n`);
    return BAD_INPUT;
  }
  const [protocol, history] = given.positionals;
  const print = (text) => writeAll(1, Buffer.from(text));
  const complain = (text) => writeAll(2, Buffer.from(text.replace(/\p{Surrogate}/gu, escaped)));
  return replay(() => file(protocol), () => file(history), given.values.at ?? null, print, complain);
}

const escaped = (half) => `\\u${half.charCodeAt(0).toString(16)}`;

// All of it, however little a pipe takes at a time.
function writeAll(to, bytes) {
  for (let at = 0; at < bytes.length;) {
    try {
      at += writeSync(to, bytes, at);
    } catch (fault) {
      if (fault.code !== "EAGAIN") throw fault;
    }
  }
}

if (argv[1] === fileURLToPath(import.meta.url)) exit(main());
