// Undo: one tap offers to strike out the last mark (or, from its line, an older one), a second says why. Nothing is typed, and the mark stays in the record, struck through.

import { gettext } from "../../clinic/js/gettext.js";
import { clockTime } from "./clock.js";
import { ask, dismiss } from "./ask.js";
import { button, h } from "./dom.js";
import * as view from "./view.js";
import { wrongPerson } from "./wrongperson.js";

// What can be struck out here: of what whoever records may strike at all, not what is struck already, what the server refused, nor
// the opening that came with the first mark. What the server would refuse must not be believed of this device's own copy.
const key = ({ kind, setting }) => kind === "setting_changed" ? `${kind}:${setting}` : kind;
export const strikable = ({ strikes }, fact) => strikes.includes(key(fact.entry)) && !fact.struck && fact.state !== "refused" && fact.entry.kind !== "session_opened";

export function inWords({ config, words }, fact) {
  const { head, result } = words.fact(fact.entry);
  return [head, result && config.words.result[result], clockTime(fact.entry.at, config.zone)].filter(Boolean).join(", ");
}

/** The reasons that fit a fact, each as the record keeps it and as it is read. */
export function reasonsFor({ strike_for: fits, strike_reasons: all }, { kind }) {
  const keys = [...(fits[kind] ?? []), ...fits[""]];
  return keys.map((kept) => all.find(([reason]) => reason === kept));
}

// Only the result was wrong: what the attempt was made with stands there again, and the right one is a tap. What was seen or
// measured since is not put aside for it.
function standsAgain({ store, choose }, { kind, skill, support, help, deviations = [], measures = {} }) {
  const { chosen } = store.get();
  const free = chosen.skill === skill && !chosen.deviations.length && !Object.keys(chosen.measures).length;
  if (kind === "attempt" && free) choose({ support, help, deviations, measures: { ...measures } });
}

// The reasons as keys. `dismissed` takes the question away once one was chosen.
function reasons(floor, fact, dismissed) {
  const strike = (reason) => async () => {
    await dismissed();
    floor.record({ kind: "struck_out", entry: fact.entry.id, reason });
    if (reason === floor.config.wrong_result) standsAgain(floor, fact.entry);
  };
  return h("div", { class: "keys" },
    reasonsFor(floor.config, fact.entry).map(([reason, word]) => button(word, strike(reason), "act act-soft")),
    button(gettext("Wrong person"), () => { dismissed(); wrongPerson(floor, fact); }, "act act-soft"));
}

// The question, low and on the thumb's side, wherever the mark stands.
export function strikeOut(floor, fact) {
  const dialog = ask(gettext("Strike this out?"), h("div", { class: "asks" },
    h("p", { class: "ask-big" }, inWords(floor, fact)),
    h("p", { class: "quiet" }, floor.copy.isDanger(fact.entry.id) ? gettext("It stays in the record, struck through, and in Alerts, since it tells of a danger. Why?") : gettext("It stays in the record, struck through. Why?")), reasons(floor, fact, () => dismiss(dialog))), { cls: "ask-near" });
}

// The last act, if it was one's own mark; after a strike-out there is none to undo.
function lastOf(config, facts, name) {
  const newest = facts.find((fact) => strikable(config, fact)) ?? null;
  const since = newest && Date.parse(newest.entry.at);
  const struckSince = facts.some((fact) => fact.struck && Date.parse(fact.struck.at) >= since);
  return newest && newest.by === name && !struckSince ? newest : null;
}

export function undo(floor, root) {
  const what = h("small", {});
  const key = button([h("span", {}, gettext("Undo")), what], () => strikeOut(floor, last), "act act-soft undo-last", { hidden: true });
  root.append(key);
  let last = null;

  floor.store.on((state) => {
    key.disabled = Boolean(state.taking); // the last mark is about to be another one
    const newest = lastOf(floor.config, view.facts(state), floor.config.staff.name);
    if (newest?.entry.id === last?.entry.id) return;
    last = newest;
    key.hidden = !last;
    if (last) what.textContent = inWords(floor, last);
  });
}
