// The tablet's copy of a record through a course of events, and a copy that is made of the same facts at once: one JSON question
// a line on standard input, one answer a line. tests/core_js/test_local_copy.py starts it.

import { stdin, stdout } from "node:process";
import { createInterface } from "node:readline";

import { loadProtocol, parseEntry } from "../../checklists/static/checklists/core/core.js";
import { localCore } from "../../checklists/static/checklists/floor/local.js";

const ME = { reference: "S-me", name: "Runa Achterling" };

function told(core) {
  const { now, ...state } = core.told();
  const skills = Object.keys(state.skills);
  return { state, advice: Object.fromEntries(skills.map((skill) => [skill, core.advise(skill)])) };
}

// A fact as the server would have it: of somebody else's as it is, of one's own with what it stamps.
const recorded = (fact, mine) => (mine ? { ...fact, by: ME.reference, role: "therapist" } : fact);

function answer({ document, reference, facts, both, steps }) {
  const protocol = loadProtocol(document);
  const pack = { reference, protocol: { document, digest: "" }, names: {}, zone: "Europe/London", role: "therapist" };
  const received = { now: new Date(), both };
  const good = facts.map((fact) => {
    try {
      return parseEntry({ ...fact, role: "therapist" }, protocol, received) && true;
    } catch {
      return false;
    }
  });
  const [record, mine] = [new Map(), new Set()];
  const core = localCore({ ...pack, number: 1, entries: [JSON.stringify(facts[0])] }, ME);
  record.set(0, facts[0]);
  const judged = [];
  for (const [what, places] of steps) {
    const usable = places.filter((place) => good[place]);
    if (what === "take") {
      for (const place of usable.filter((one) => !record.has(one))) {
        mine.add(place);
        record.set(place, recorded(facts[place], true));
        judged.push(core.take([facts[place]])[0].alerts.length);
      }
    } else if (what === "bring") {
      const fresh = usable.map((place) => {
        record.set(place, recorded(facts[place], mine.has(place)));
        return JSON.stringify(record.get(place));
      });
      core.bring({ number: 2, role: "therapist", names: {}, entries: fresh });
    } else {
      const lost = places.filter((place) => mine.has(place));
      const gone = lost.filter((place) => core.without([facts[place].id]));
      for (const place of gone) record.delete(place);
    }
  }
  const at_once = localCore({ ...pack, number: 2, entries: [...record.values()].map((fact) => JSON.stringify(fact)) }, ME);
  return { step_by_step: told(core), at_once: told(at_once), many: record.size, judged: judged.length };
}

for await (const line of createInterface({ input: stdin, crlfDelay: Infinity })) {
  let said;
  try {
    said = { said: answer(JSON.parse(line)) };
  } catch (fault) {
    said = { failed: fault.stack ?? String(fault) };
  }
  stdout.write(`${JSON.stringify(said)}\n`);
}
