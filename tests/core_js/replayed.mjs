// What a replay of a document and lines prints and says, and how it ends, without a file or a process: for
// tests/replay.mjs, and for comparisons in Node and in a browser.

import { EntryRefused, ProtocolRefused, ValueError } from "../../checklists/static/checklists/core/errors.js";
import * as instant from "../../checklists/static/checklists/core/instant.js";
import { loadProtocol } from "../../checklists/static/checklists/core/protocol.js";
import { asLine, replayLines } from "../../checklists/static/checklists/core/replay.js";
import { repr } from "../../checklists/static/checklists/core/texts.js";

export const [DONE, BAD_INPUT, PROTOCOL_REFUSED] = [0, 1, 2];
const LINE_FEED = 10;

/**
 * Replay a history under a protocol.
 * @param {() => Uint8Array} protocol reads the document
 * @param {() => Uint8Array} history reads the lines
 * @param {string | null} at
 * @param {(text: string) => void} out
 * @param {(text: string) => void} complain
 * @param {(source: Uint8Array) => Protocol} load
 * @returns {number} the exit status; whatever else is thrown in reading comes through
 */
export function replay(protocol, history, at, out, complain, load = loadProtocol) {
  let bad = 0;
  const reportLine = (number, why) => {
    bad += 1;
    complain(`line ${number} ${why}\n`);
  };
  try {
    if (at !== null) instant.read(at);
    const document = load(protocol());
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
  if (!(fault instanceof ValueError) || fault instanceof EntryRefused) throw fault;
  complain(`--at ${at === null ? "None" : repr(at)} ${fault.message}\n`);
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
