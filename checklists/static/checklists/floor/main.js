// The Floor: puts its parts together. Each behaviour is a module of its own that fills the element which names it (data-floor).

import { attempt } from "./attempt.js";
import { clockFace } from "./clockface.js";
import { serverCore } from "./core.js";
import { find } from "./dom.js";
import { endSession } from "./end.js";
import { madeNow } from "./entries.js";
import { fallen } from "./fall.js";
import { guard } from "./guard.js";
import { handOver } from "./handover.js";
import { kneeBars } from "./kneebar.js";
import { log } from "./log.js";
import { net } from "./net.js";
import { results } from "./results.js";
import { safekeeping } from "./safekeeping.js";
import { skillList } from "./skills.js";
import { startCheck } from "./startcheck.js";
import { makeStore, NOTHING_CHOSEN } from "./store.js";
import * as view from "./view.js";
import { makeWords } from "./words.js";

const config = JSON.parse(document.getElementById("floor-config").textContent);
const store = makeStore({
  server: config.state, kept: [], elsewhere: [], others: [], chosen: NOTHING_CHOSEN, facts: 0,
  advised: { skill: null, table: null, facts: -1 }, net: { kind: "ok" }, said: "", alerts: [], skipped: false,
});
const core = serverCore(config.addresses);

const floor = { config, store, core, words: makeWords(config), record, choose, refresh, advise };
const keeping = safekeeping(floor);
floor.keeping = keeping;

// Record what was seen or done: in the page at once, kept on this device, then sent. One call is one act.
async function record(...facts) {
  const opens = config.records_attempts && facts[0].kind !== "struck_out"; // a prosthetist at the knee opens no session
  if (opens && !view.session(store.get()).open) facts.unshift({ kind: "session_opened" });
  const made = madeNow(facts, config.zone);
  const kept = keeping.take(made);
  const { head, result } = floor.words.fact(made.at(-1));
  store.set({ said: `Recorded: ${head}${result ? `, ${result}` : ""}.` });
  advise();
  await kept;
}

async function refresh() {
  const { kind, state } = await core.state();
  if (kind === "ok") store.set({ server: state });
  await advise();
}

// Work the advice out anew for the chosen skill: every rung and help of it at once, so that a tap on support waits for nothing.
// It counts for the facts that were known when it was asked for; later ones make it old (view.advice).
async function advise() {
  const { chosen, facts } = store.get();
  if (!chosen.skill) return;
  const table = await core.advise(chosen.skill, view.waiting(store.get()));
  const { chosen: now, advised } = store.get();
  const newer = advised.skill !== now.skill || facts >= advised.facts;
  if (chosen.skill === now.skill && newer) store.set({ advised: { skill: chosen.skill, table, facts } });
}

function choose(patch) {
  const before = store.get().chosen;
  store.set({ chosen: { ...before, ...patch } });
  if (patch.skill && patch.skill !== before.skill) advise();
}

const parts = { clockFace, kneeBars, startCheck, skillList, attempt, results, log, net, endSession, fallen };
for (const [name, part] of Object.entries(parts)) part(floor, find(name));
handOver(floor);
await keeping.load();
await guard(floor);
await refresh();
setInterval(() => document.visibilityState === "visible" && !keeping.busy() && refresh(), 60_000);
