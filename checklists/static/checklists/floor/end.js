// The end check: skin, then whether walking mode is proven; the answer to that closes the session. What is left out is said on the
// key that closes, and it is shut until the skin is answered: nobody leaves it out unawares.

import { fill, gettext, pgettext } from "../../clinic/js/gettext.js";
import { ask, dismiss } from "./ask.js";
import { button, h, key, note, put } from "./dom.js";
import { leaveNothing } from "./unrecorded.js";
import * as view from "./view.js";

export function endSession(floor, root) {
  const close = button(gettext("Close session"), () => leaveNothing(floor, () => question(floor)), "act");
  root.append(close);
  floor.store.on((state) => { close.disabled = !view.session(state).open; });
}

function unprovenKnee(floor, knees) {
  const unproven = knees.filter((knee) => knee.mode && !(knee.mode === "walking" && knee.proof === "proven"));
  const setTo = unproven.find((knee) => knee.proof !== "proven") ?? unproven[0];
  if (!setTo) return null;
  const head = setTo.proof === "proven" ? gettext("The knee is set to {mode}") : gettext("The knee is set to {mode}, and not proven");
  return note("check", fill(head, { mode: floor.config.words.Mode[setTo.mode] }),
    gettext("Set it to walking and prove it now, one hand on a rail, before the person walks out."));
}

function question(floor) {
  const { config } = floor;
  const { head: skin = "", line = "", bad = "" } = config.words.start.skin ?? {};
  const steps = {};
  const asksSkin = config.checks.end_of_session.includes("skin");
  const knees = view.knees(floor.store.get());
  const unproven = unprovenKnee(floor, knees);
  const about = knees.length > 1 ? gettext("Both knees in walking mode, both shown to bend under load?") : gettext("Walking mode, shown to bend under load?");
  const end = (mode) => async () => {
    dismiss(dialog);
    const check = { kind: "check", name: "end_of_session", steps: { mode, ...steps } };
    floor.choose({ skill: null, support: null, despite: "", deviations: [], measures: {} });
    document.body.classList.remove("chosen");
    await floor.record(...(mode ? [check, { kind: "session_closed" }] : [check]));
  };
  const warned = h("p", { class: "is-unsafe", role: "alert" });
  const yes = button(asksSkin ? gettext("Look at the skin first") : gettext("Yes, proven: close"), end(true), unproven ? "act" : "act act-main", { disabled: asksSkin });
  const looked = (good) => () => {
    steps.skin = good;
    put(warned, good ? "" : bad);
    put(yes, gettext("Yes, proven: close"));
    yes.disabled = false;
  };
  const answers = [[true, "good", pgettext("of a check", "Good")], [false, "bad", pgettext("of a check", "Not good")]];
  const dialog = ask(gettext("End check: closes the session"), h("div", { class: "asks" },
    unproven,
    asksSkin && h("fieldset", { class: "field" }, h("legend", { class: "ask-big" }, fill(gettext("{what}: {answer}"), { what: skin, answer: line })),
      h("div", { class: "keys" }, answers.map(([good, value, words]) => key({ name: "end-skin", value, words, said: fill(gettext("{what}: {answer}"), { what: skin, answer: words }), onchange: looked(good) })))),
    warned,
    h("p", { class: "ask-big" }, about),
    h("p", { class: "acts" }, yes, button(pgettext("walking mode is not proven", "No"), end(false), "act act-stop")),
    h("details", {}, h("summary", {}, gettext("Close without the proof")), h("p", {}, gettext("The lead is told, and somebody must prove the knee within three hours.")),
      button(gettext("Close it unproven"), async () => { dismiss(dialog); await floor.record({ kind: "session_closed" }); }, "act act-stop"))), { cls: "ask-near" });
}
