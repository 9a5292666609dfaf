// A fall, or a stumble that was saved. A fall that ended an attempt makes that attempt unsafe, at the same instant.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { ask, button, h, key } from "./dom.js";

export function fallen(floor, root) {
  root.append(button(gettext("Fall"), () => tell(floor, "fall"), "act act-stop"), button(gettext("Near miss"), () => tell(floor, "near_miss"), "act act-soft"));
}

function tell(floor, kind) {
  const { config, store, words } = floor;
  const { skill, support, help } = store.get().chosen;
  const told = { kind, ...(skill ? { skill } : {}), ...(kind === "fall" ? { injury: null } : {}) };
  let ended = Boolean(skill && support);
  const save = button(kind === "fall" ? gettext("Record the fall") : gettext("Record the near miss"), done, "act act-main", { disabled: kind === "fall" });
  const chips = (name, label, options, onpick) => h("fieldset", { class: "field" }, h("legend", { class: "label" }, label), h("div", { class: "keys" }, options.map(([value, word]) => key({ name, value, words: word, said: fill(gettext("{what}: {answer}"), { what: label, answer: word }), onchange: () => onpick(value) }))));
  const line = (name, label) => h("label", { class: "field" }, h("span", { class: "label" }, label), h("input", { type: "text", maxlength: "400", onchange: (event) => { told[name] = event.target.value.trim(); } }));
  const dialog = ask(kind === "fall" ? gettext("Fall: came to rest on a lower level") : gettext("Near miss: a stumble that was saved"), h("div", { class: "asks" },
    kind === "fall" ? h("p", { class: "quiet" }, gettext("First look after the person, by local policy. Then record.")) : null,
    kind === "fall" ? chips("injury", gettext("Injury"), Object.entries(config.words.injury), (value) => { told.injury = value; save.disabled = false; }) : null,
    skill ? chips("during", gettext("During"), [[skill, words.skills[skill].name], ["", gettext("not during an attempt")]], (value) => { ended = Boolean(value) && Boolean(support); if (value) told.skill = value; else delete told.skill; }) : null,
    line("circumstances", gettext("What happened (optional)")), line("action", gettext("What was done at once (optional)")), h("p", { class: "acts" }, save)), { cls: "ask-near" });
  dialog.querySelector('input[name="during"]')?.click();

  async function done() {
    dialog.close();
    for (const name of ["circumstances", "action"]) if (!told[name]) delete told[name];
    const attempt = { kind: "attempt", skill, support, help, result: "unsafe", deviations: store.get().chosen.deviations, measures: {} };
    floor.choose({ support: null, deviations: [], measures: {}, despite: "" });
    await floor.record(...(kind === "fall" && ended ? [attempt, told] : [told]));
  }
}
