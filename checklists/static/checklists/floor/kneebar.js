// The knee, always on top: shape is the mode, fill is the proof. Setting a mode and proving it are two facts; each step of a
// proof is its own tap, in the order of the check. What is tapped to prove it stands in the thumb's column (data-floor="proofs").

import { fill, gettext, pgettext } from "../../clinic/js/gettext.js";
import { clockTime, dayAndTime, now, sameDay } from "./clock.js";
import { ask, dismiss } from "./ask.js";
import { button, find, h, key, picture, put } from "./dom.js";
import * as view from "./view.js";

const PROOF_OF = { locked: "lock_in", free_swing: "free_swing_on" };
const risk = (mode) => ({
  locked: gettext("The knee may not be locked"), free_swing: gettext("Free swing may be on"),
  walking: gettext("The knee may still be locked or swinging free"),
})[mode];

const proofs = () => ({ proven: gettext("proven"), set: gettext("only set, not proven"), failed: gettext("checked, and not so") });

export function kneeBars(floor, root) {
  const bars = new Map();
  floor.proveAgain = () => bars.forEach((bar) => bar.again());
  floor.store.on((state) => {
    for (const knee of view.knees(state)) {
      if (!bars.has(knee.knee)) {
        bars.set(knee.knee, bar(floor, knee.knee));
        root.append(bars.get(knee.knee).element);
        find("proofs").append(bars.get(knee.knee).prove);
      }
      bars.get(knee.knee).show({ ...knee, fell: view.fell(state, knee), starting: floor.config.records_attempts && view.asksStart(state) });
    }
    root.classList.toggle("kneebars-two", bars.size > 1);
  });
}

function bar(floor, side) {
  const { config, record } = floor;
  const features = config.features;
  const modes = ["walking", ...(features.includes("lock") ? ["locked"] : []), ...(features.includes("free_swing") ? ["free_swing"] : [])];
  const about = side ? { knee: side } : {};
  const name = { left: gettext("Left knee"), right: gettext("Right knee") }[side] ?? gettext("Knee");
  const glyph = h("div", { class: "kneebar-glyph" });
  const word = h("p", { class: "kneebar-mode" });
  const line = h("p", {});
  const anew = button(gettext("Prove again"), () => again(), "act kneebar-anew", { hidden: true, ...(side ? { "aria-label": fill(gettext("Prove again: {knee}"), { knee: name }) } : {}) });
  const keys = modes.map((mode) => key({
    name: `mode-${side ?? "knee"}`, value: mode, words: config.words.Mode[mode], lead: picture(`knee-${mode}-set`), onchange: () => set(mode),
    said: fill(gettext("{knee} set to: {mode}"), { knee: name, mode: config.words.Mode[mode] }),
  }));
  const setting = h("fieldset", { class: "kneebar-keys" }, h("legend", { class: "label" }, side ? fill(gettext("{knee}: I have set it to"), { knee: name }) : gettext("I have set the knee to")), h("div", { class: "keys" }, keys));
  const prove = h("div", { class: "prove", role: "group", "aria-label": fill(gettext("{knee}: prove it"), { knee: name }), hidden: true });
  const told = h("p", { class: "unseen", role: "status" }); // the mode and its proof, once; not its age, which changes each minute
  const element = h("section", { "aria-label": name }, told, glyph, h("div", { class: "kneebar-say" }, side ? h("p", { class: "label" }, name) : null, h("div", { class: "kneebar-top" }, word, anew), line), modes.length > 1 ? setting : null);
  let before = "walking";
  let proving = "";
  let drawn = "";
  let asked = null; // since when the mode stands whose proof is asked for once more

  // A mode that is tapped once more, or a fall: its proof is open again, and a second tap shuts it.
  function again(open = true) {
    asked = open || asked !== current.at ? current.at : null;
    show(current);
  }

  for (const each of keys) {
    each.querySelector("input").addEventListener("click", ({ target }) => {
      if (current.mode === target.value && current.proof === "proven") again(false);
    });
  }

  async function set(mode) {
    const support = mode === "free_swing" ? await where() : {};
    if (support) await record({ kind: "mode_set", mode, ...about, ...support });
    else show(current);
  }

  function where() {
    return new Promise((resolve) => {
      const answer = (value) => () => { dismiss(dialog, value); };
      const dialog = ask(gettext("Where is the person?"), h("div", { class: "asks" },
        h("p", {}, gettext("Free swing is first felt in the bars. Later it is switched on only when already seated on the bicycle.")),
        button(gettext("Seated on the bicycle"), answer("none")), button(gettext("In the bars, both hands"), answer("bars_both")), button(gettext("In the bars, one hand"), answer("bars_one"))), { cls: "ask-near" });
      dialog.addEventListener("close", () => resolve(dialog.returnValue ? { support: dialog.returnValue } : null));
    });
  }

  function proofOf(knee) {
    if (PROOF_OF[knee.mode]) return PROOF_OF[knee.mode];
    const from = knee.before ?? before;
    if (from === "locked") return "lock_out";
    return from === "free_swing" ? "free_swing_off" : null;
  }

  function drawProof(knee) {
    const check = proofOf(knee);
    const steps = check ? config.checks[check] : ["bends"];
    const done = new Set();
    const failed = () => {
      const bad = steps.find((step) => !done.has(step));
      record(check ? { kind: "check", name: check, steps: { ...good(), [bad]: false }, ...about } : { kind: "mode_checked", mode: knee.mode, ok: false, ...about });
    };
    const good = () => Object.fromEntries([...done].map((step) => [step, true]));
    const tapped = (step) => (event) => {
      done[event.target.checked ? "add" : "delete"](step);
      if (done.size < steps.length) return;
      const inOrder = Object.fromEntries(steps.map((each) => [each, true]));
      record(check ? { kind: "check", name: check, steps: inOrder, ...about } : { kind: "mode_checked", mode: knee.mode, ok: true, ...about });
    };
    const how = check === "free_swing_on" ? gettext("Seated on the bicycle, or in the bars the first time.") : gettext("One hand on a rail.");
    const of = (words) => (side ? { said: `${name}: ${words}` } : {});
    const word = (step) => config.words.proofs[step] ?? step;
    prove.replaceChildren(
      h("p", { class: "prove-h" }, h("b", {}, side ? fill(gettext("{knee}: prove it before the next step."), { knee: name }) : gettext("Prove it before the next step.")), ` ${how}`, steps.length > 1 ? ` ${fill(gettext("Tap all {n}."), { n: steps.length })}` : ""),
      h("div", { class: "keys" },
        steps.map((step) => key({ name: `${side ?? "knee"}-${check}-${step}`, value: step, type: "checkbox", words: word(step), onchange: tapped(step), ...of(word(step)) })),
        button(pgettext("the knee does not do what is asked", "It does not"), failed, "act act-stop", side ? { "aria-label": fill(gettext("It does not: {knee}"), { knee: name }) } : {})),
    );
  }

  let current = { mode: null };
  function show(knee) {
    current = knee;
    const mode = knee.mode ?? "unknown";
    const proof = knee.mode ? knee.proof ?? "set" : "set";
    if (knee.mode && proof === "proven") before = knee.mode;
    for (const each of keys) each.querySelector("input").checked = each.querySelector("input").value === knee.mode;
    const shows = `${JSON.stringify(knee)} ${asked} ${Math.floor((now() - Date.parse(knee.at)) / 60000)}`;
    if (shows === drawn) return;
    drawn = shows;
    element.className = `kneebar kneebar-${mode} kneebar-is-${proof}${knee.fell ? " kneebar-fell" : ""}`;
    anew.hidden = !knee.fell;
    glyph.replaceChildren(picture(`knee-${mode}-${proof}`));
    put(word, `${config.words.Mode[mode]}${proof === "set" && knee.mode ? "?" : ""}`);
    line.replaceChildren(...said(knee, mode, proof));
    put(told, [name, config.words.Mode[mode], knee.fell ? gettext("proven before the fall") : knee.mode ? proofs()[proof] : ""].filter(Boolean).join(": "));
    const open = knee.mode && (proof !== "proven" || asked === knee.at);
    const what = `${mode} ${proof} ${knee.at}`;
    if (!open) prove.replaceChildren();
    else if (what !== proving) drawProof(knee);
    proving = open ? what : "";
    prove.hidden = !open;
  }

  function said(knee, mode, proof) {
    if (!knee.mode) return [h("b", {}, knee.at ? gettext("Knee exchanged: nothing is known of it.") : gettext("Nothing was seen yet.")), ` ${gettext("The start check shows the mode.")}`];
    const today = sameDay(knee.at, now(), config.zone);
    const when = today ? clockTime(knee.at, config.zone) : dayAndTime(knee.at, config.zone);
    const minutes = Math.floor((now() - Date.parse(knee.at)) / 60000);
    const ago = minutes ? fill(gettext("{n} min ago"), { n: minutes }) : gettext("just now");
    const age = !today || minutes < 0 ? "" : `, ${ago}`;
    const by = knee.by_name ? ` · ${knee.by_name}` : "";
    if (knee.fell) return [h("b", {}, fill(gettext("Proven {time}, before the fall {fall}"), { time: when, fall: clockTime(knee.fell, config.zone) }))];
    if (proof === "proven") return [h("b", {}, fill(gettext("Proven {time}"), { time: when })), `${age}${by}`];
    if (proof === "failed") return [h("b", {}, fill(gettext("Checked {time}, and not so."), { time: when })), ` ${gettext("Sit the person down.")}`];
    return [h("b", {}, gettext("Only set, not proven.")), ` ${fill(gettext("Set {time}"), { time: when })}${age} · ${knee.starting && mode === "walking" ? gettext("prove it below, in the start check") : risk(mode)}`];
  }

  setInterval(() => show(current), 30_000);
  return { element, prove, show, again };
}
