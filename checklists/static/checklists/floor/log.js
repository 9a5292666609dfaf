// This session's facts, newest first. A fact is struck out with a reason and stays, struck through; one that the server refused
// stays with its error; what an alert says to do now stands on top until it is read.

import { fill, gettext, pgettext } from "../../clinic/js/gettext.js";
import { said as spoken } from "../words/said.js";
import { clockTime } from "./clock.js";
import { arrange, button, find, h, note, put, say } from "./dom.js";
import { mend } from "./mend.js";
import { inWords, strikable, strikeOut } from "./undo.js";
import * as view from "./view.js";

const STRUCK = "struck_danger"; // the core's rule
const BACK = "walking_mode_in_time"; // the protocol's: a knee that was left locked or swinging free

const states = () => {
  const sent = pgettext("of a mark", "sent");
  return { sent, accepted: sent, repeated: sent, waiting: gettext("not sent yet"), held: gettext("waits for a lead"), refused: pgettext("of a mark", "not taken") };
};

export function log(floor, root) {
  const { config, store, words } = floor;
  const since = h("small", {});
  const said = h("p", { class: "unseen", role: "status" });
  const alerts = h("div", { class: "log-alerts" });
  const list = h("ol", { class: "ledger", tabindex: "0", "aria-labelledby": "h-log" });
  root.prepend(h("h2", { id: "h-log" }, gettext("This session"), since), said, list);
  const nothing = h("li", { class: "quiet" }, h("span"), gettext("Nothing recorded today."));
  let drawn = "";
  let told = [];
  let followed = null;
  let proven = null; // since when every knee walks, proven
  let top = null; // the newest line
  let newestKey = null; // by which the newest mark that can be struck out is

  function undo(fact) {
    return button(gettext("Strike out"), () => strikeOut(floor, fact), "act act-soft undo", { "aria-label": fill(gettext("Strike out: {mark}"), { mark: inWords(floor, fact) }) });
  }

  function struck({ at, by, reason }) {
    const time = clockTime(at, config.zone);
    const why = words.strike(reason);
    return by ? fill(gettext("struck out {time} by {name}: {reason}"), { time, name: by, reason: why }) : fill(gettext("struck out {time}: {reason}"), { time, reason: why });
  }

  // The attempt that a fall ended is recorded at its very instant.
  const ofFall = ({ entry }) => entry.kind === "attempt" && view.facts(store.get()).some((fact) => fact.entry.kind === "fall" && fact.entry.at === entry.at);

  function line(fact) {
    const { head, detail, result, tone } = words.fact(fact.entry);
    const word = h("span", { class: "unseen" });
    const state = h("span", {}, word);
    const body = h("div", {}, h("p", {}, tone && !fact.struck ? say(tone, head) : h("b", {}, head)),
      result && !fact.struck ? h("p", {}, say(result, config.words.result[result]), fact.uncounted ? ` · ${gettext("not counted")}` : "") : null,
      fact.struck ? h("p", { class: "small quiet" }, struck(fact.struck)) : null,
      detail && !fact.struck ? h("p", { class: "small quiet" }, detail) : null,
      ofFall(fact) ? h("p", { class: "small quiet" }, gettext("recorded with the fall")) : null,
      fact.by && fact.by !== config.staff.name ? h("p", { class: "small quiet", "data-by": true }, fill(gettext("by {name}"), { name: fact.by })) : null,
      fact.state === "refused" ? [h("p", { class: "small is-unsafe" }, fill(gettext("Not taken: {error}. It is kept for you and the lead."), { error: spoken(fact.error) })), mend(floor, fact)] : null);
    const strike = strikable(config, fact) ? undo(fact) : null;
    const element = h("li", { class: fact.struck ? "struck" : "", "data-fact": fact.entry.id }, h("time", { datetime: fact.entry.at }, clockTime(fact.entry.at, config.zone)), body, state, strike);
    return {
      element,
      show(now, newest) {
        state.className = now === "waiting" ? "unsent" : "sent";
        put(word, states()[now] ?? now);
        strike?.classList.toggle("undo-newest", newest);
      },
    };
  }

  // What a broken rule says to do now, and what follows from what was recorded: until it is read.
  function untilRead(kind, head, text, spokenAs, field, one, act = null) {
    const read = () => store.set({ [field]: store.get()[field].filter((each) => each !== one) });
    const key = button(gettext("I have read this"), read, "act act-soft", { "aria-label": fill(gettext("I have read this: {alert}"), { alert: head }) });
    return h("div", { role: spokenAs }, note(kind, head, text, h("span", { class: "acts" }, act, key)));
  }

  // Whoever struck a danger out has just said why: whoever reads the alert asks them, not they themselves.
  const own = (alert) => untilRead("check", gettext("You struck out the record of a danger"), gettext("It stands in Alerts; a lead may ask you why."), "alert", "alerts", alert);
  // Of a knee that was left so: whoever reads this stands before the person, and once it is proven the danger is over.
  const over = (alert, at) => untilRead("check", fill(gettext("Proven {time}. Only its answer under Alerts may be left."), { time: clockTime(at, config.zone) }), spoken(alert.sentence), "status", "alerts", alert);
  const here = (alert) => alert.rule === BACK ? [h("b", {}, gettext("The person is here: prove it now, here.")), " ", gettext("Otherwise:"), " "] : [h("b", {}, gettext("Do now:")), " "];
  const toDo = (alert) => alert.rule === STRUCK ? own(alert) : alert.rule === BACK && proven ? over(alert, proven) : untilRead("stop", fill(gettext("The rule that it broke: {sentence}"), { sentence: spoken(alert.sentence) }), h("span", {}, here(alert), spoken(alert.do_now), " ", gettext("It stays under Alerts until it is answered there.")), "alert", "alerts", alert);
  const follows = (each) => untilRead("check", each.head, each.text, "status", "follows", each, each.act);

  // A line is drawn once and stays, also when 'not sent' becomes 'sent': nothing moves under a finger.
  const lines = new Map();
  function lineOf(fact, newest) {
    const { id } = fact.entry;
    const shows = `${fact.struck?.at} ${fact.uncounted} ${fact.state === "refused" && fact.error}`;
    if (lines.get(id)?.shows !== shows) lines.set(id, { shows, ...line(fact) });
    lines.get(id).show(fact.state, fact === newest);
    return lines.get(id).element;
  }

  function sinceWhen({ open, since: began }, closed) {
    if (open && began) return fill(gettext("since {time}"), { time: clockTime(began, config.zone) });
    if (closed) return fill(gettext("closed {time}"), { time: clockTime(closed, config.zone) });
    return config.records_attempts ? gettext("opens with the start check") : gettext("not open");
  }

  // What is to be done about a mark goes with it when it is struck out; that a danger was struck out, when that was not taken.
  function showAlerts(state, facts) {
    const ids = (which) => new Set(facts.filter(which).map((fact) => fact.entry.id));
    const [struck, refused] = [ids((fact) => fact.struck), ids((fact) => fact.state === "refused")];
    const stand = state.alerts.filter(({ rule, entry }) => !struck.has(entry) && !(rule === STRUCK && refused.has(entry)));
    const walks = view.walksSince(state);
    if (stand.length === told.length && stand.every((alert, at) => alert === told[at]) && state.follows === followed && walks === proven) return;
    const more = stand.length + state.follows.length > alerts.childElementCount;
    [told, followed, proven] = [stand, state.follows, walks];
    alerts.replaceChildren(...state.follows.map(follows), ...stand.map(toDo)); // a fall first
    if (!more) return;
    alerts.parentElement.scrollTop = 0;
    alerts.scrollIntoView({ block: "nearest" }); // where the page itself scrolls
  }

  store.on((state) => {
    const session = view.session(state);
    put(since, sinceWhen(session, view.closed(state)));
    put(said, state.said);
    const place = document.body.matches(".starting, .knee-only") ? root : find("look"); // where they can be seen
    if (alerts.parentElement !== place) place.prepend(alerts);
    const facts = view.facts(state).slice(0, 60);
    showAlerts(state, facts);
    const now = JSON.stringify(facts.map((fact) => [fact.entry.id, fact.state, fact.struck?.at, fact.uncounted]));
    if (now !== drawn) draw(facts);
    drawn = now;
    if (newestKey) newestKey.disabled = Boolean(state.taking); // the newest mark is about to be another one
  });

  function draw(facts) {
    if (newestKey) newestKey.disabled = false;
    const newest = facts.find((fact) => strikable(config, fact));
    arrange(list, facts.length ? facts.map((fact) => lineOf(fact, newest)) : [nothing]);
    newestKey = list.querySelector(".undo-newest");
    if (facts[0]?.entry.id !== top) list.scrollTop = 0; // what was recorded just now is seen
    top = facts[0]?.entry.id;
  }
}
