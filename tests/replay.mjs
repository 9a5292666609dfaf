// `node tests/replay.mjs PROTOCOL.json HISTORY.jsonl [--at INSTANT]` prints what `manage.py replay` prints, by the core in
// JavaScript: the same lines, the same refusals, the same exit codes (SEMANTICS.md §7).

import { readFileSync, writeSync } from "node:fs";
import { exit } from "node:process";
import { parseArgs } from "node:util";

import { BAD_INPUT, replay } from "./core_js/replayed.mjs";

const FAULTS = { ENOENT: "No such file or directory", EISDIR: "Is a directory", EACCES: "Permission denied" };
const USAGE = "usage: node tests/replay.mjs [--at INSTANT] PROTOCOL.json HISTORY.jsonl\n";

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
  try {
    return replay(() => file(protocol), () => file(history), given.values.at ?? null, print, complain);
  } catch (fault) {
    if (!(fault.code in FAULTS)) throw fault;
    complain(`${fault.path}: ${FAULTS[fault.code]}\n`);
    return BAD_INPUT;
  }
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

exit(main());
