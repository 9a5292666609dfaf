// This session's facts, newest first. A fact is struck out with a reason and stays, struck through; one that the server refused
// stays with its error; what an alert says to do now stands on top until it is read.

import { clockTime } from "./clock.js";
import { button, h, note, say } from "./dom.js";
import * as view from "./view.js";
import { wrongPerson } from "./wrongperson.js";

const STATES = { sent: "sent", accepted: "sent", repeated: "sent", waiting: "not sent yet", held: "waits for a lead", refused: "not taken" };

export function log(floor, root) {
  const { config, store, words, record, keeping } = floor;
  const since = h("small", {});
  const said = h("p", { class: "unseen", role: "status" });
  const alerts = h("div", { class: "log-alerts" });
  const list = h("ol", { class: "ledger", tabindex: "0", "aria-labelledby": "h-log" });
  root.prepend(h("h2", { id: "h-log" }, "This session", since), said, alerts, list);
  let drawn = "";
  let told = null;

  const strike = (fact, reason) => record({ kind: "struck_out", entry: fact.entry.id, reason });

  function undo(fact, newest) {
    const reasons = h("div", { class: "keys" }, config.strike_reasons.map((reason) => button(reason, () => strike(fact, reason), "act act-soft")),
      button("Wrong person", () => wrongPerson(floor, fact), "act act-soft"));
    return h("details", { class: `undo ${newest ? "undo-newest" : ""}` },
      h("summary", { class: newest ? "act act-soft" : "small", "aria-label": `Strike this out: ${words.fact(fact.entry).head}, ${clockTime(fact.entry.at, config.zone)}` }, newest ? "Strike this out" : "Strike out"),
      h("p", { class: "small quiet" }, "It stays in the record, struck through. Why?"), reasons);
  }

  function line(fact, newest) {
    const { head, detail, result, tone } = words.fact(fact.entry);
    const state = h("span", { class: fact.state === "waiting" ? "unsent" : "sent" }, h("span", { class: "unseen" }, STATES[fact.state] ?? fact.state));
    const body = h("div", {}, h("p", {}, tone && !fact.struck ? say(tone, head) : h("b", {}, head)),
      result && !fact.struck ? h("p", {}, say(result, config.words.result[result])) : null,
      fact.struck ? h("p", { class: "small quiet" }, `struck out ${clockTime(fact.struck.at, config.zone)}${fact.struck.by ? ` by ${fact.struck.by}` : ""}: ${fact.struck.reason}`) : null,
      detail && !fact.struck ? h("p", { class: "small quiet" }, detail) : null,
      fact.state === "refused" ? [h("p", { class: "small is-unsafe" }, `Not taken: ${fact.error}. It is kept for you and the lead.`), button("I have read this", () => keeping.seen(fact.entry.id), "act act-soft")] : null);
    const open = !fact.struck && fact.state !== "refused" && fact.entry.kind !== "session_opened";
    return h("li", { class: fact.struck ? "struck" : "", "data-fact": fact.entry.id }, h("time", { datetime: fact.entry.at }, clockTime(fact.entry.at, config.zone)), body, state, open ? undo(fact, newest) : null);
  }

  store.on((state) => {
    const session = view.session(state);
    since.textContent = session.open && session.since ? `since ${clockTime(session.since, config.zone)}` : "not open";
    said.textContent = state.said;
    if (state.alerts !== told) {
      told = state.alerts;
      alerts.replaceChildren(...state.alerts.map((alert) => h("div", { role: "alert" }, note("stop", alert.sentence, h("span", {}, h("b", {}, "Do now: "), alert.do_now), button("Read", () => store.set({ alerts: store.get().alerts.filter((one) => one !== alert) }), "act act-soft")))));
    }
    const facts = view.facts(state).slice(0, 60);
    const now = JSON.stringify(facts.map((fact) => [fact.entry.id, fact.state, Boolean(fact.struck)]));
    if (now === drawn || list.querySelector("details[open]")?.contains(document.activeElement) && facts[0]?.entry.id === list.dataset.newest && !changed(facts)) return;
    drawn = now;
    list.dataset.newest = facts[0]?.entry.id ?? "";
    const newest = facts.find((fact) => !fact.struck && fact.entry.kind !== "session_opened");
    list.replaceChildren(...facts.map((fact) => line(fact, fact === newest)));
    if (!facts.length) list.append(h("li", { class: "quiet" }, h("span"), "Nothing recorded today."));
  });

  // While somebody chooses a reason, a mere change of 'not sent' to 'sent' does not take the list from under the finger.
  const changed = (facts) => facts.some((fact) => fact.struck && !list.querySelector(`[data-fact="${fact.entry.id}"].struck`));
}
