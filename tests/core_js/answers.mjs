// What the core in JavaScript makes of many questions, one JSON line each on standard input, one answer line each: a
// process that the comparisons (tests/core_js) start once. Bytes travel as base64, since what is no text is among
// the questions.

import { createInterface } from "node:readline";
import { stdin, stdout } from "node:process";

import { EntryRefused, ProtocolRefused } from "../../checklists/static/checklists/core/errors.js";
import { parse } from "../../checklists/static/checklists/core/json.js";
import { loadProtocol } from "../../checklists/static/checklists/core/protocol.js";
import { parseEntry } from "../../checklists/static/checklists/core/reading.js";
import { canonical } from "../../checklists/static/checklists/core/canonical.js";
import { compared } from "./compared.mjs";
import { replay } from "./replayed.mjs";

const bytes = (text) => Buffer.from(text, "base64");
let last = { source: null, protocol: null };

function protocolOf(source) {
  if (source !== last.source) last = { source, protocol: loadProtocol(bytes(source)) };
  return last.protocol;
}

const ASKED = {
  replay({ protocol, history, at }) {
    const [out, said] = [[], []];
    const status = replay(() => bytes(protocol), () => bytes(history), at, (text) => out.push(text), (text) => said.push(text));
    return { status, out: out.join(""), said: said.join("") };
  },

  compared: ({ dealt }) => ({ found: dealt.map(compared) }),

  load({ protocol }) {
    const { digest, reference } = loadProtocol(bytes(protocol));
    return { digest, reference };
  },

  entry({ protocol, entry, now, both, signing }) {
    const read = parseEntry(parse(bytes(entry)), protocolOf(protocol), { now, both, signing });
    return { at: [String(read.atUs), read.day], content: canonical(read.content()) };
  },
};

function answer(question) {
  try {
    return ASKED[question.ask](question);
  } catch (fault) {
    if (fault instanceof ProtocolRefused || fault instanceof EntryRefused) return { refused: fault.message };
    return { failed: fault.stack ?? String(fault) };
  }
}

for await (const line of createInterface({ input: stdin, crlfDelay: Infinity })) {
  stdout.write(`${JSON.stringify(answer(JSON.parse(line)))}\n`);
}
