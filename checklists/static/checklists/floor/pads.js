// Numbers as optional taps: two scales, a stopwatch, a counter, a tape, the edge under the foot. Only those that the skill asks for.

import { ask, button, h } from "./dom.js";

export function pads(floor, skill) {
  return skill.measures.map((measure) => (MADE[measure.key] ?? plain)(floor, measure));
}

function pad(floor, measure, controls, watch = () => {}) {
  const { store } = floor;
  const read = h("b", {});
  const range = h("span", { class: "small quiet" }, measure.range);
  const clear = button("Clear", () => give(floor, measure.key, undefined), "act act-soft", { hidden: true, "aria-label": `Clear ${measure.name}` });
  const element = h("div", { class: "pad", role: "group", "aria-label": measure.name }, h("p", { class: "label" }, measure.name), h("p", { class: "read", role: "status" }, read, range), controls, clear);
  store.on((state) => {
    const value = state.chosen.measures[measure.key];
    const shown = watch(value);
    read.textContent = shown ?? (value === undefined ? "–" : `${Math.round(value * 100) / 100}${measure.suffix}`);
    clear.hidden = value === undefined;
  });
  return element;
}

function give({ store, choose }, name, value) {
  const measures = { ...store.get().chosen.measures };
  if (value === undefined) delete measures[name];
  else measures[name] = value;
  choose({ measures });
}

// A pad of digits large enough for a thumb. Gives the numbers to `done` when the last field is full and confirmed.
export function digits(title, fields, done) {
  const inputs = fields.map((field) => h("input", { type: "text", inputmode: "decimal", "aria-label": field, autocomplete: "off" }));
  let at = 0;
  const focus = (index) => { at = index; inputs[index].focus(); };
  inputs.forEach((input, index) => input.addEventListener("focus", () => { at = index; }));
  const type = (sign) => () => {
    const input = inputs[at];
    input.value = sign === "⌫" ? input.value.slice(0, -1) : input.value + sign;
  };
  const numbers = () => inputs.map((input) => (input.value.trim() === "" ? NaN : Number(input.value.replace(",", "."))));
  const ready = h("p", { class: "quiet", role: "status" });
  const confirm = () => {
    const values = numbers();
    const missing = values.findIndex((value) => !(value > 0 && value < 1000));
    if (missing >= 0) { ready.textContent = `${fields[missing]}: a number above 0, please.`; focus(missing); return; }
    dialog.close();
    done(...values);
  };
  const dialog = ask(title, h("div", { class: "digits" },
    h("div", { class: "digits-fields" }, fields.map((field, index) => h("label", { class: "field" }, h("span", { class: "label" }, field), inputs[index]))),
    h("div", { class: "digits-keys" }, ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", "⌫"].map((sign) => button(sign, type(sign), "act", sign === "⌫" ? { "aria-label": "Delete the last digit" } : {}))),
    ready, h("p", { class: "acts" }, fields.length > 1 ? button("Next field", () => focus((at + 1) % fields.length), "act") : null, button("Take it", confirm, "act act-main"))));
  dialog.addEventListener("keydown", (event) => event.key === "Enter" && event.target.matches("input") && confirm());
  focus(0);
}

function scales(floor, measure) {
  const [first, second] = floor.config.side === "both" ? ["Left foot, kg", "Right foot, kg"] : ["Prosthesis, kg", "Other foot, kg"];
  const read = () => digits("Two scales", [first, second], (mine, other) => give(floor, measure.key, (100 * mine) / (mine + other)));
  return pad(floor, measure, button("Read two scales", read, "act act-soft"));
}

function tape(floor, measure) {
  const read = () => digits("Step lengths", ["Prosthetic step, cm", "Sound step, cm"], (mine, other) => give(floor, measure.key, mine / other));
  return pad(floor, measure, button("Measure", read, "act act-soft"));
}

function stopwatch(floor, measure) {
  let began = null;
  let timer;
  const toggle = button("Start", () => {
    if (began === null) {
      began = performance.now();
      toggle.textContent = "Stop";
      timer = setInterval(() => floor.store.set({}), 200);
      return;
    }
    const seconds = (performance.now() - began) / 1000;
    began = null;
    clearInterval(timer);
    toggle.textContent = "Start";
    give(floor, measure.key, Math.round(seconds * 10) / 10);
  }, "act act-soft");
  return pad(floor, measure, toggle, () => {
    if (began !== null && !toggle.isConnected) { clearInterval(timer); began = null; }
    return began === null ? undefined : `${((performance.now() - began) / 1000).toFixed(1)} s`;
  });
}

function counter(floor, measure) {
  const add = (count) => () => give(floor, measure.key, Math.max(0, (floor.store.get().chosen.measures[measure.key] ?? 0) + count));
  return pad(floor, measure, h("span", { class: "keys" }, button("+1", add(1), "act act-soft"), button("+5", add(5), "act act-soft")));
}

function contact(floor, measure) {
  const each = (value) => button(`${value} %`, () => give(floor, measure.key, value), "act act-soft");
  return pad(floor, measure, h("span", { class: "keys" }, [25, 50, 75, 100].map(each)));
}

function plain(floor, measure) {
  return pad(floor, measure, button("Enter", () => digits(measure.name, [measure.name], (value) => give(floor, measure.key, value)), "act act-soft"));
}

const MADE = { load_share: scales, step_ratio: tape, held_s: stopwatch, steps: counter, foot_contact: contact };
