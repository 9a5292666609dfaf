// Closing the session asks once more: walking mode proven? The answer is the end check; skin is an optional tap before it.

import { fill, gettext, pgettext } from "../../clinic/js/gettext.js";
import { ask, button, h, key, note } from "./dom.js";
import * as view from "./view.js";

export function endSession(floor, root) {
  const close = button(gettext("Close session"), () => question(floor), "act");
  root.append(close);
  floor.store.on((state) => { close.disabled = !view.session(state).open; });
}

function question(floor) {
  const { config } = floor;
  const steps = {};
  const knees = view.knees(floor.store.get());
  const unproven = knees.filter((knee) => knee.mode && !(knee.mode === "walking" && knee.proof === "proven"));
  const about = knees.length > 1 ? gettext("Both knees in walking mode, both shown to bend under load?") : gettext("Walking mode, shown to bend under load?");
  const both = [["good", pgettext("of a check", "Good")], ["bad", pgettext("of a check", "Not good")]];
  const end = (mode) => async () => {
    dialog.close();
    const check = { kind: "check", name: "end_of_session", steps: { mode, ...steps } };
    floor.choose({ skill: null, support: null, despite: "", deviations: [], measures: {} });
    document.body.classList.remove("chosen");
    await floor.record(...(mode ? [check, { kind: "session_closed" }] : [check]));
  };
  const setTo = unproven.find((knee) => knee.proof !== "proven") ?? unproven[0];
  const dialog = ask(gettext("Close the session"), h("div", { class: "asks" },
    unproven.length ? note("check", fill(setTo.proof === "proven" ? gettext("The knee is set to {mode}") : gettext("The knee is set to {mode}, and not proven"), { mode: config.words.Mode[setTo.mode] }),
      gettext("Set it to walking and prove it now, one hand on a rail, before the person walks out.")) : null,
    h("fieldset", { class: "field" }, h("legend", { class: "label" }, gettext("Skin (optional)")), h("div", { class: "keys" }, both.map(([value, words]) => key({ name: "end-skin", value, words, said: fill(gettext("{what}: {answer}"), { what: config.words.start.skin?.head ?? "", answer: words }), onchange: () => { steps.skin = value === "good"; } })))),
    h("p", { class: "ask-big" }, about),
    h("p", { class: "acts" }, button(gettext("Yes, proven"), end(true), unproven.length ? "act" : "act act-main"), button(pgettext("walking mode is not proven", "No"), end(false), "act act-stop")),
    h("details", {}, h("summary", {}, gettext("Close without the proof")), h("p", {}, gettext("The lead is told, and somebody must prove the knee within three hours.")),
      button(gettext("Close it unproven"), async () => { dialog.close(); await floor.record({ kind: "session_closed" }); }, "act act-stop"))), { cls: "ask-near" });
}
