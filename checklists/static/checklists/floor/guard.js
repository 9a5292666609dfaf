// The guard: when this device was last open for somebody else today, nothing is recorded before it is confirmed who stands here.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { ask, dismiss } from "./ask.js";
import { button, h } from "./dom.js";

const LAST = "floor.last";

function last() {
  try {
    return JSON.parse(localStorage.getItem(LAST)) ?? {};
  } catch {
    return {};
  }
}

function remember(config) {
  try {
    localStorage.setItem(LAST, JSON.stringify({ episode: config.episode, name: config.person.name, day: new Date().toDateString() }));
  } catch {
    // a device that keeps nothing asks again next time
  }
}

export function guard({ config }) {
  const before = last();
  const { person } = config;
  if (!before.episode || before.episode === config.episode || before.day !== new Date().toDateString()) {
    remember(config);
    return Promise.resolve();
  }
  return new Promise((resolve) => {
    const fault = h("p", { class: "is-unsafe", role: "alert" });
    const typed = h("input", { type: "text", autocomplete: "off", spellcheck: "false" });
    const confirmed = () => { remember(config); dismiss(dialog); resolve(); };
    const compare = () => {
      const same = typed.value.trim().toLowerCase() === person.second_identifier.toLowerCase();
      if (same) confirmed();
      else fault.textContent = fill(gettext("That is not the identifier of {name}. Check who stands here."), { name: person.name });
    };
    const form = h("form", { method: "dialog", class: "guard-scan", onsubmit: (event) => { event.preventDefault(); compare(); } },
      h("label", { class: "field" }, h("span", { class: "label" }, gettext("Second identifier, typed or scanned (if you wish)")), typed), h("button", { class: "act act-soft" }, gettext("Compare")));
    const dialog = ask(gettext("Another person: who stands here?"), h("div", { class: "asks" },
      h("p", {}, fill(gettext("On this tablet you were with {name}. What you record now is recorded for:"), { name: before.name })),
      h("p", { class: "ask-big" }, h("b", {}, person.name)),
      h("dl", { class: "facts" }, [[gettext("Born"), person.born], [gettext("Number"), person.number], [gettext("Second identifier"), person.second_identifier], [gettext("Prosthesis"), config.words.side]].map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value)))),
      h("p", { class: "acts" }, button(fill(gettext("Yes, this is {name}"), { name: person.name }), confirmed, "act act-main"), h("a", { class: "act", href: config.addresses.today }, gettext("No, back to Today"))),
      form, fault), { closable: false, cls: "ask-near" });
  });
}
