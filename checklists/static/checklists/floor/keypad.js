// Numbers by keys as large as a thumb. The figures stand in outputs, not in text fields: nothing calls the system's keyboard up.
// Who has a keyboard may use it all the same.

import { fill, gettext, language } from "../../clinic/js/gettext.js";
import { ask, dismiss } from "./ask.js";
import { button, h, put } from "./dom.js";

const LONGEST = 6;
const point = () => new Intl.NumberFormat(language()).formatToParts(1.5).find((part) => part.type === "decimal").value;

// `fields`: { label, least, most }. `done` gets the numbers when all stand there.
export function keypad(title, fields, done) {
  const sign = point();
  const typed = fields.map(() => "");
  let at = 0;
  const outputs = fields.map(() => h("output", {}, "–"));
  const choose = fields.map(({ label }, index) => button([h("span", { class: "label" }, label), outputs[index]], () => go(index), "act act-soft digits-field", { "aria-pressed": "false" }));
  const fault = h("p", { class: "is-unsafe", role: "alert" });
  const take = button("", next, "act act-main");
  const keys = [..."123456789", sign, "0", "⌫"].map((each) => button(each, () => press(each), "act", NAMES(each, sign)));
  const dialog = ask(title, h("div", { class: "digits" },
    h("div", { class: "digits-fields" }, choose), h("div", { class: "digits-keys" }, keys), fault, h("p", { class: "acts" }, take)), { cls: "ask-near" });
  dialog.addEventListener("keydown", byKeyboard);
  go(0);

  function number(index) {
    return typed[index] === "" || typed[index] === sign ? NaN : Number(typed[index].replace(sign, "."));
  }

  function go(index) {
    at = index;
    choose.forEach((each, place) => each.setAttribute("aria-pressed", String(place === at)));
    show();
  }

  function show() {
    outputs.forEach((output, index) => put(output, typed[index] || "–"));
    const empty = fields.findIndex((_, index) => index !== at && typed[index] === "");
    put(take, empty < 0 ? gettext("Take it") : fill(gettext("Next: {field}"), { field: fields[empty].label }));
  }

  function press(each) {
    const now = typed[at];
    put(fault, "");
    if (each === "⌫") typed[at] = now.slice(0, -1);
    else if (now.length < LONGEST && !(each === sign && now.includes(sign))) typed[at] = now === "0" && each !== sign ? each : now + each;
    show();
  }

  function next() {
    const bad = fields.findIndex(({ least, most }, index) => typed[index] !== "" && !(number(index) >= least && number(index) <= most));
    const empty = typed.findIndex((text) => text === "");
    if (bad >= 0) {
      const { label, least, most } = fields[bad];
      put(fault, fill(gettext("{field}: from {least} to {most}, please."), { field: label, least, most }));
      return go(bad);
    }
    if (empty >= 0 && empty !== at) return go(empty);
    if (empty >= 0) return put(fault, fill(gettext("{field}: a number, please."), { field: fields[empty].label }));
    dismiss(dialog);
    done(...fields.map((_, index) => number(index)));
  }

  function byKeyboard(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (/^\d$/.test(event.key)) press(event.key);
    else if (event.key === "." || event.key === ",") press(sign);
    else if (event.key === "Backspace") press("⌫");
    else if (event.key === "Enter" && !event.target.matches("button")) next();
  }
}

const NAMES = (each, sign) => ({ [sign]: { "aria-label": gettext("Decimal point") }, "⌫": { "aria-label": gettext("Delete the last digit") } })[each] ?? {};
