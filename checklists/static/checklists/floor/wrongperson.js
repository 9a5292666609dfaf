// 'Recorded on the wrong person': struck out here and recorded there, as one act of the server's.

import { fill, gettext, ngettext } from "../../clinic/js/gettext.js";
import { ask, dismiss } from "./ask.js";
import { button, h, key } from "./dom.js";
import { call } from "./sender.js";
import * as view from "./view.js";
import { clockTime } from "./clock.js";

export async function wrongPerson(floor, fact) {
  const { config, store, words } = floor;
  const listed = await call(config.addresses.others);
  const people = listed.kind === "ok" ? listed.answer.people : [];
  const since = view.facts(store.get()).filter((one) => !one.struck && one.state !== "refused" && MOVABLE.has(one.entry.kind));
  const upward = since.filter((one) => Date.parse(one.entry.at) >= Date.parse(fact.entry.at));
  let target = null;
  let which = [fact];
  const fault = h("p", { class: "is-unsafe", role: "alert" });
  const move = button(gettext("Choose the person first"), go, "act act-main", { disabled: true });
  const person = (each) => key({
    name: "target", value: each.episode, words: each.name, small: fill(gettext("{number} · {identifier} · born {born}"), { number: each.number, identifier: each.second_identifier, born: each.born }),
    onchange: () => { target = each; move.disabled = false; move.textContent = fill(gettext("Move to {name}"), { name: each.name }); },
  });
  const dialog = ask(gettext("Recorded on the wrong person"), h("div", { class: "asks" },
    h("fieldset", { class: "field" }, h("legend", { class: "label" }, gettext("What")), h("div", { class: "keys" },
      key({ name: "which", value: "one", checked: true, words: fill(gettext("Only this: {mark}"), { mark: `${words.fact(fact.entry).head}, ${clockTime(fact.entry.at, config.zone)}` }), onchange: () => { which = [fact]; } }),
      upward.length > 1 ? key({ name: "which", value: "since", words: fill(ngettext("This and {n} after it", "This and the {n} after it", upward.length - 1), { n: upward.length - 1 }), onchange: () => { which = upward; } }) : null)),
    h("fieldset", { class: "field" }, h("legend", { class: "label" }, gettext("To whom it belongs")), h("div", { class: "keys all-people" }, people.map(person))),
    people.length ? null : h("p", {}, listed.sentence ?? gettext("Nobody to choose from: the server does not answer.")),
    fault, h("p", { class: "acts" }, move)), { cls: "ask-wide" });

  async function go() {
    move.disabled = true;
    const { kind, sentence } = await call(config.addresses.move, { target: target.episode, entries: which.map((one) => one.entry.id) });
    if (kind === "ok") {
      dismiss(dialog);
      store.set({ said: fill(gettext("Moved to {name}."), { name: target.name }) });
      await floor.refresh();
    } else {
      fault.textContent = kind === "unreachable" ? gettext("The server does not answer. Nothing was moved.") : sentence ?? gettext("Sign in again first. Nothing was moved.");
      move.disabled = false;
    }
  }
}

const MOVABLE = new Set(["check", "mode_set", "mode_checked", "attempt", "fall", "near_miss", "session_opened", "session_closed"]);
