// Closing the session asks once more: walking mode proven? The answer is the end check; skin is an optional tap before it.

import { ask, button, h, key, note } from "./dom.js";
import * as view from "./view.js";

export function endSession(floor, root) {
  const close = button("Close session", () => question(floor), "act");
  const hint = h("span", { class: "small quiet" }, "asks once more: walking mode proven?");
  root.append(close, hint);
  floor.store.on((state) => { close.disabled = !view.session(state).open; });
}

function question(floor) {
  const steps = {};
  const knees = view.knees(floor.store.get());
  const unproven = knees.filter((knee) => knee.mode && !(knee.mode === "walking" && knee.proof === "proven"));
  const about = knees.length > 1 ? "Both knees in walking mode, both shown to bend under load?" : "Walking mode, shown to bend under load?";
  const both = ["good", "bad"];
  const end = (mode) => async () => {
    dialog.close();
    const check = { kind: "check", name: "end_of_session", steps: { mode, ...steps } };
    floor.choose({ skill: null, support: null, despite: "", deviations: [], measures: {} });
    document.body.classList.remove("chosen");
    await floor.record(...(mode ? [check, { kind: "session_closed" }] : [check]));
  };
  const dialog = ask("Close the session", h("div", { class: "asks" },
    unproven.length ? note("check", "The record does not have it proven", "The knee was set since, or its check failed. Prove it now, one hand on a rail, before the person walks out.") : null,
    h("fieldset", { class: "field" }, h("legend", { class: "label" }, "Skin (optional)"), h("div", { class: "keys" }, both.map((value) => key({ name: "end-skin", value, words: value === "good" ? "Good" : "Not good", onchange: () => { steps.skin = value === "good"; } })))),
    h("p", { class: "ask-big" }, about),
    h("p", { class: "acts" }, button("Yes, proven", end(true), "act act-main"), button("No", end(false), "act act-stop")),
    h("details", {}, h("summary", {}, "Close without the proof"), h("p", {}, "The lead is told, and somebody must prove the knee within three hours."),
      button("Close without the proof", async () => { dialog.close(); await floor.record({ kind: "session_closed" }); }, "act act-stop"))));
}
