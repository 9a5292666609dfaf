// What the server did not take stays with its reason until somebody sees to it: it is corrected and recorded again, as a new fact,
// or dropped with a reason after a question. One tap loses nothing.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { said as spoken } from "../words/said.js";
import { clockTime } from "./clock.js";
import { ask, dismiss } from "./ask.js";
import { button, h, key } from "./dom.js";
import { madeNow, madeThen } from "./entries.js";
import { call } from "./sender.js";
import { reasonsFor } from "./undo.js";

/** The keys under a fact that was not taken. */
export function mend(floor, fact) {
  const mark = fill(gettext("{mark}, {time}"), { mark: floor.words.fact(fact.entry).head, time: clockTime(fact.entry.at, floor.config.zone) });
  return h("p", { class: "acts" },
    button(gettext("Correct it"), () => correct(floor, fact, mark), "act act-soft", { "aria-label": fill(gettext("Correct it: {mark}"), { mark }) }),
    button(gettext("Drop it"), () => drop(floor, fact, mark), "act act-soft", { "aria-label": fill(gettext("Drop it: {mark}"), { mark }) }));
}

const refused = (fact) => h("p", { class: "is-unsafe" }, fill(gettext("Not taken: {error}"), { error: spoken(fact.error) }));
const fields = (label, keys) => h("fieldset", { class: "field" }, h("legend", { class: "label" }, label), h("div", { class: "keys" }, keys));

// The parts of an attempt that were chosen from a list, each as keys with the present one marked.
function choices(floor, entry, changed) {
  const { config, words } = floor;
  if (entry.kind !== "attempt") return [];
  const one = (name, label, values, said) => fields(label, values.map((value) => key({
    name: `mend-${name}`, value, words: said[value] ?? value, checked: entry[name] === value, onchange: () => { changed[name] = value; },
  })));
  const rungs = words.skills[entry.skill]?.rungs ?? config.support;
  return [
    one("support", gettext("Support"), rungs, config.words.Support),
    one("help", gettext("Help"), config.help, config.words.Help),
    one("result", gettext("Result"), ["safe", "stopped", "unsafe"], config.words.result),
    entry.measures ? fields(gettext("Numbers"), [["keep", gettext("As they are")], ["drop", gettext("Without them")]].map(([value, said]) => key({
      name: "mend-numbers", value, words: said, checked: value === "keep", onchange: () => { changed.measures = value === "drop" ? undefined : entry.measures; },
    }))) : null,
  ];
}

function correct(floor, fact, mark) {
  const { config } = floor;
  const changed = {};
  let then = false;
  const time = clockTime(fact.entry.at, config.zone);
  const when = [["now", gettext("Now")], ["then", fill(gettext("At {time}, as it was"), { time })]];
  const dialog = ask(gettext("Correct and record again"), h("div", { class: "asks" },
    h("p", {}, h("b", {}, mark)), refused(fact),
    choices(floor, fact.entry, changed),
    fields(gettext("When it happened"), when.map(([value, said]) => key({ name: "mend-when", value, words: said, checked: value === "now", onchange: () => { then = value === "then"; } }))),
    h("p", { class: "small quiet" }, gettext("It is recorded as a new mark; this one is put aside.")),
    h("p", { class: "acts" }, button(gettext("Record it"), record, "act act-main"))), { cls: "ask-wide" });

  async function record() {
    const { id, at, seq, ...said } = { ...fact.entry, ...changed };
    const [made] = then ? [madeThen(said, fact.entry)] : madeNow([said], config.zone);
    dismiss(dialog);
    const taken = floor.keeping.take([made], floor.copy.take([made]));
    floor.copy.tell();
    await taken;
    await settled(floor, fact.entry.id, `recorded again as ${made.id}`, made.id); // the trail's words stay English
    await floor.keeping.seen(fact.entry.id);
  }
}

function drop(floor, fact, mark) {
  const fault = h("p", { class: "is-unsafe", role: "alert" });
  const reasons = reasonsFor(floor.config, fact.entry);
  let why = null;
  const go = button(gettext("Choose the reason first"), done, "act act-stop", { disabled: true });
  const chosen = (reason) => { why = reason; go.disabled = false; go.textContent = gettext("Drop it for good"); };
  const dialog = ask(gettext("Drop what was not taken?"), h("div", { class: "asks" },
    h("p", {}, h("b", {}, mark)), refused(fact),
    fields(gettext("Why"), reasons.map(([kept, said]) => key({ name: "mend-why", value: kept, words: said, onchange: () => chosen(kept) }))),
    h("p", { class: "small quiet" }, gettext("It is not in the record and will not be. The server keeps what was sent, with your reason.")),
    fault, h("p", { class: "acts" }, go)), { cls: "ask-wide" });

  async function done() {
    go.disabled = true;
    const { kind, sentence } = await settled(floor, fact.entry.id, why);
    if (kind === "ok" || kind === "refused") { // refused: the person is not theirs any more, and nothing is left to be said there
      dismiss(dialog);
      await floor.keeping.seen(fact.entry.id);
      return;
    }
    fault.textContent = sentence ?? (kind === "signed_out" ? gettext("Sign in again first. Nothing was dropped.") : gettext("The server does not answer. Nothing was dropped."));
    go.disabled = false;
  }
}

// The server notes that it was seen to, why, and as what it was recorded again.
const settled = (floor, id, reason, as) => call(`${floor.config.addresses.entries}${id}/settled/`, { reason, again_as: as });
