// The guard: when this device was last open for somebody else today, nothing is recorded before it is confirmed who stands here.

import { ask, button, h } from "./dom.js";

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
    const confirmed = () => { remember(config); dialog.close(); resolve(); };
    const compare = () => {
      const same = typed.value.trim().toLowerCase() === person.second_identifier.toLowerCase();
      if (same) confirmed();
      else fault.textContent = `That is not ${person.name}’s. Check who stands here.`;
    };
    const form = h("form", { method: "dialog", class: "guard-scan", onsubmit: (event) => { event.preventDefault(); compare(); } },
      h("label", { class: "field" }, h("span", { class: "label" }, "Second identifier, typed or scanned"), typed), h("button", { class: "act act-soft" }, "Compare"));
    const dialog = ask("Another person: who stands here?", h("div", { class: "asks" },
      h("p", {}, `On this tablet you were with ${before.name}. What you record now is recorded for:`),
      h("p", { class: "ask-big" }, h("b", {}, person.name)),
      h("dl", { class: "facts" }, [["Born", person.born], ["Number", person.number], ["Second identifier", person.second_identifier], ["Prosthesis", config.words.side]].map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value)))),
      h("p", { class: "acts" }, button(`Yes, this is ${person.name}`, confirmed, "act act-main"), h("a", { class: "act", href: config.addresses.today }, "No, back to Today")),
      form, fault), { closable: false });
  });
}
