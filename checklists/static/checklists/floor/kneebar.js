// The knee, always on top: shape is the mode, fill is the proof. Setting a mode and proving it are two facts; each step of a
// proof is its own tap, in the order of the check.

import { clockTime, dayAndTime, now, sameDay } from "./clock.js";
import { ask, button, h, key, picture } from "./dom.js";
import * as view from "./view.js";

const PROOF_OF = { locked: "lock_in", free_swing: "free_swing_on" };
const RISK = { locked: "The knee may not be locked", free_swing: "Free swing may be on", walking: "The knee may still be locked or swinging free" };

export function kneeBars(floor, root) {
  const bars = new Map();
  floor.store.on((state) => {
    for (const knee of view.knees(state)) {
      if (!bars.has(knee.knee)) {
        bars.set(knee.knee, bar(floor, knee.knee));
        root.append(bars.get(knee.knee).element);
      }
      bars.get(knee.knee).show(knee);
    }
    root.classList.toggle("kneebars-two", bars.size > 1);
  });
}

function bar(floor, side) {
  const { config, record } = floor;
  const features = config.features;
  const modes = ["walking", ...(features.includes("lock") ? ["locked"] : []), ...(features.includes("free_swing") ? ["free_swing"] : [])];
  const about = side ? { knee: side } : {};
  const name = side ? `${side[0].toUpperCase()}${side.slice(1)} knee` : "Knee";
  const glyph = h("div", { class: "kneebar-glyph" });
  const word = h("p", { class: "kneebar-mode" });
  const line = h("p", {});
  const keys = modes.map((mode) => key({
    name: `mode-${side ?? "knee"}`, value: mode, words: config.words.Mode[mode], lead: picture(`knee-${mode}-set`), onchange: () => set(mode),
  }));
  const setting = h("fieldset", { class: "kneebar-keys" }, h("legend", { class: "label" }, `I have set the ${name.toLowerCase()} to`), h("div", { class: "keys" }, keys));
  const prove = h("div", { class: "prove", role: "group", "aria-label": `${name}: prove it` });
  const element = h("section", { "aria-label": name }, glyph, h("div", { class: "kneebar-say", role: "status" }, side ? h("p", { class: "label" }, name) : null, word, line), modes.length > 1 ? setting : null, prove);
  let before = "walking";
  let proving = "";

  async function set(mode) {
    const support = mode === "free_swing" ? await where() : {};
    if (support) await record({ kind: "mode_set", mode, ...about, ...support });
    else show(current);
  }

  function where() {
    return new Promise((resolve) => {
      const answer = (value) => () => { dialog.returnValue = value; dialog.close(value); };
      const dialog = ask("Where is the person?", h("div", { class: "asks" },
        h("p", {}, "Free swing is first felt in the bars. Later it is switched on only when already seated on the bicycle."),
        button("Seated on the bicycle", answer("none")), button("In the bars, both hands", answer("bars_both")), button("In the bars, one hand", answer("bars_one"))));
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
    const how = check === "free_swing_on" ? "Seated on the bicycle, or in the bars the first time." : "One hand on a rail.";
    prove.replaceChildren(
      h("p", { class: "prove-h" }, h("b", {}, "Prove it before the next step."), ` ${how}`),
      h("div", { class: "keys" }, steps.map((step) => key({ name: `${check}-${step}`, value: step, type: "checkbox", words: config.words.proofs[step] ?? step, onchange: tapped(step) }))),
      button("It does not", failed, "act act-stop"),
    );
  }

  let current = { mode: null };
  function show(knee) {
    current = knee;
    const mode = knee.mode ?? "unknown";
    const proof = knee.mode ? knee.proof ?? "set" : "set";
    if (knee.mode && proof === "proven") before = knee.mode;
    element.className = `kneebar kneebar-${mode} kneebar-is-${proof}`;
    glyph.replaceChildren(picture(`knee-${mode}-${proof}`));
    word.textContent = `${config.words.Mode[mode]}${proof === "set" && knee.mode ? "?" : ""}`;
    line.replaceChildren(...said(knee, mode, proof));
    for (const each of keys) each.querySelector("input").checked = each.querySelector("input").value === knee.mode;
    const open = knee.mode && proof !== "proven";
    const what = `${mode} ${proof} ${knee.at}`;
    if (!open) prove.replaceChildren();
    else if (what !== proving) drawProof(knee);
    proving = open ? what : "";
    prove.hidden = !open;
  }

  function said(knee, mode, proof) {
    if (!knee.mode) return [h("b", {}, knee.at ? "Knee exchanged: nothing is known of it." : "Nothing was seen yet."), " The start check shows the mode."];
    const today = sameDay(knee.at, now(), config.zone);
    const when = today ? clockTime(knee.at, config.zone) : dayAndTime(knee.at, config.zone);
    const minutes = Math.floor((now() - Date.parse(knee.at)) / 60000);
    const age = !today || minutes < 0 ? "" : minutes ? `, ${minutes} min ago` : ", just now";
    const by = knee.by_name ? ` · ${knee.by_name}` : "";
    if (proof === "proven") return [h("b", {}, `Proven ${when}`), `${age}${by}`];
    if (proof === "failed") return [h("b", {}, `Checked ${when}, and not so.`), " Sit the person down."];
    return [h("b", {}, "Only set, not proven."), ` Set ${when}${age} · ${RISK[mode]}`];
  }

  setInterval(() => show(current), 30_000);
  return { element, show };
}
