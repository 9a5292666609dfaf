// The tablet's copy of a record through a course of events, and a copy that is made of the same facts at once: one JSON question
// a line on standard input, one answer a line. tests/core_js/test_local_copy.py starts it.

import { stdin, stdout } from "node:process";
import { createInterface } from "node:readline";

import { Episode, loadProtocol, parseEntry } from "../../checklists/static/checklists/core/core.js";
import { localCore } from "../../checklists/static/checklists/floor/local.js";

const ME = { reference: "S-me", name: "Runa Achterling" };

function told(core) {
  const { now, ...state } = core.told();
  const skills = Object.keys(state.skills);
  return { state, advice: Object.fromEntries(skills.map((skill) => [skill, core.advise(skill)])) };
}

// A fact as the server would have it: of somebody else's as it is, of one's own with what it stamps.
const recorded = (fact, mine) => (mine ? { ...fact, by: ME.reference, role: "therapist" } : fact);

// The server's side of it: what it has, in the order of reception, and a pack of it as it sends one.
function server(protocol, document, reference) {
  const has = [];
  const fold = () => Episode.replay(protocol, has.map((fact) => parseEntry(fact, protocol)), { reference }).episode.snapshot();
  return {
    pack(fresh, { snapshot }) {
      has.push(...fresh);
      return {
        reference, protocol: { document, digest: "" }, names: {}, zone: "Europe/London", role: "therapist", number: has.length,
        entries: fresh.map((fact) => JSON.stringify(fact)), snapshot: snapshot ? fold() : null,
      };
    },
    all: () => [...has],
  };
}

// The same course of events for two copies: one began with the entries alone, the other with a snapshot of them, and gets one now
// and then. What each said of every fact goes into `judged`.
function answer({ document, reference, facts, both, begin, steps }) {
  const protocol = loadProtocol(document);
  const received = { now: new Date(), both };
  const good = facts.map((fact, place) => {
    try {
      return parseEntry(place < begin ? fact : { ...fact, role: "therapist" }, protocol, place < begin ? {} : received) && true;
    } catch {
      return false;
    }
  });
  const [record, mine, judged] = [new Map(), new Set(), [[], []]];
  const ones = server(protocol, document, reference);
  const first = facts.slice(0, begin).filter((fact, place) => good[place] && record.set(place, fact));
  const whole = ones.pack(first, { snapshot: true });
  const cores = [localCore({ ...whole, snapshot: null }, ME), localCore(whole, ME)];
  for (const [what, places] of steps) {
    const usable = places.filter((place) => good[place]);
    if (what === "take") {
      for (const place of usable.filter((one) => !record.has(one))) {
        mine.add(place);
        record.set(place, recorded(facts[place], true));
        cores.forEach((core, number) => judged[number].push(core.take([facts[place]])[0].alerts));
      }
    } else if (what.startsWith("bring")) {
      const had = new Set(ones.all().map((fact) => fact.id));
      const fresh = usable.filter((place) => !had.has(facts[place].id)).map((place) => {
        record.set(place, recorded(facts[place], mine.has(place)));
        return record.get(place);
      });
      const more = ones.pack(fresh, { snapshot: what.endsWith("snapshot") });
      cores.forEach((core, number) => core.bring({ ...more, snapshot: number ? more.snapshot : null }));
    } else {
      const lost = places.filter((place) => mine.has(place));
      const gone = lost.filter((place) => cores.map((core) => core.without([facts[place].id])).some(Boolean));
      for (const place of gone) record.delete(place);
    }
  }
  // the other as a page that opens now finds it: the pack as it was kept, and what is not sent
  const kept = localCore(JSON.parse(JSON.stringify(cores[1].pack)), ME);
  const had = new Set(ones.all().map((fact) => fact.id));
  kept.take([...record.values()].filter((fact) => !had.has(fact.id)));
  const rest = [...record.values()].map((fact) => JSON.stringify(fact));
  const at_once = localCore({ ...whole, snapshot: null, entries: rest }, ME);
  return {
    step_by_step: told(cores[0]), from_a_snapshot: told(cores[1]), opened_again: told(kept), at_once: told(at_once),
    many: record.size, judged,
  };
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
