// The Floor: puts its parts together. Each behaviour is a module of its own that fills the element which names it (data-floor).

import { fill, gettext } from "../../clinic/js/gettext.js";
import { alarms, makeAlarm } from "./alarm.js";
import { attempt } from "./attempt.js";
import { keepAwake } from "./awake.js";
import { clockFace } from "./clockface.js";
import { recordCopy } from "./copy.js";
import { serverCore } from "./core.js";
import { find, nextPicture } from "./dom.js";
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
import { handSwitch, makeSettings } from "./settings.js";
import { skillList } from "./skills.js";
import { startCheck } from "./startcheck.js";
import { makeStore, NOTHING_CHOSEN } from "./store.js";
import { watchLinks } from "./unrecorded.js";
import * as view from "./view.js";
import { makeWords } from "./words.js";

const config = JSON.parse(document.getElementById("floor-config").textContent);
const store = makeStore({
  server: config.state, kept: [], elsewhere: [], others: [], chosen: NOTHING_CHOSEN, facts: 0,
  advised: { skill: null, table: null, facts: -1 }, net: { kind: "ok" }, said: "", alerts: [], follows: [], skipped: false, again: false, local: false, taking: 0,
});
const core = serverCore(config.addresses);

const floor = { config, store, core, words: makeWords(config), record, choose, refresh, advise, isNews: (alert) => copy.isNews(alert) };
const keeping = safekeeping(floor);
const settings = makeSettings(config.staff.reference);
const copy = recordCopy(floor);
Object.assign(floor, { keeping, copy, settings, alarm: makeAlarm(settings) });

const coming = []; // made at a tap and not taken yet: until the picture after it, and the core's word, a tenth of a second or a few
let before = Promise.resolve();

function isOpen() {
  const ends = coming.map((fact) => fact.kind).filter((kind) => kind === "session_opened" || kind === "session_closed");
  return ends.length ? ends.at(-1) === "session_opened" : view.session(store.get()).open;
}

// Record what was seen or done: kept on this device, then sent. One call is one act. The tap is answered first, then the record
// is folded with it (a strike-out folds all of it anew); acts are taken in the order of the taps, with the instant of each.
function record(...facts) {
  const opens = config.records_attempts && facts[0].kind !== "struck_out"; // a prosthetist at the knee opens no session
  if (opens && !isOpen()) facts.unshift({ kind: "session_opened" });
  const made = madeNow(facts, config.zone);
  coming.push(...made);
  const { head, result } = floor.words.fact(made.at(-1));
  const said = fill(gettext("Recorded: {mark}."), { mark: [head, config.words.result[result]].filter(Boolean).join(", ") });
  store.set({ said, taking: coming.length });
  const taken = before.then(nextPicture).then(() => take(made));
  before = taken.catch(() => {});
  return taken.then((kept) => kept());
}

// Returns how to wait until it is kept: the next act need not.
function take(made) {
  coming.splice(0, made.length);
  const kept = store.together(() => {
    const judged = copy.take(made);
    const held = keeping.take(made, judged);
    copy.tell();
    store.set({ taking: coming.length, ...copy.alarmed(judged) });
    advise();
    return held;
  });
  return () => kept;
}

// What others have recorded comes in; where this device has no copy of the record and gets none, the server's own word.
async function refresh() {
  const { kind } = await copy.refresh();
  if (kind !== "ok" && !store.get().local) {
    const { kind: answered, state } = await core.state();
    if (answered === "ok") store.set({ server: state });
  }
  await advise();
}

// Work the advice out anew for the chosen skill: every rung and help of it at once, so that a tap on support waits for nothing.
// It counts for the facts that were known when it was asked for; later ones make it old (view.advice).
async function advise() {
  const { chosen, facts } = store.get();
  if (!chosen.skill) return;
  const take = (table) => {
    const { chosen: now, advised } = store.get();
    const newer = advised.skill !== now.skill || facts >= advised.facts;
    if (chosen.skill === now.skill && newer) store.set({ advised: { skill: chosen.skill, table, facts } });
  };
  const here = copy.advise(chosen.skill);
  take(here ?? (await core.advise(chosen.skill, view.waiting(store.get()))));
}

function choose(patch) {
  const { chosen } = store.get();
  store.set({ chosen: { ...chosen, ...patch } });
  if (patch.skill && patch.skill !== chosen.skill) nextPicture().then(advise);
}

const parts = { handSwitch, clockFace, kneeBars, startCheck, skillList, attempt, results, log, net, endSession, fallen };
for (const [name, part] of Object.entries(parts)) part(floor, find(name));
handOver(floor);
watchLinks(floor);
keepAwake(floor);
alarms(floor);
const sure = guard(floor); // who stands here is asked before anything can be tapped
await keeping.load();
await copy.load();
const brought = refresh();
await sure;
await brought;
document.body.dataset.floorReady = "";
performance.mark("floor-ready"); // from the beginning of the navigation to a page that advises: measured by tests/browser/test_offline.py
setInterval(() => {
  copy.tell(); // time alone changes what is safe
  if (document.visibilityState === "visible" && !keeping.busy()) refresh();
}, 60_000);
