// What one person likes on this device: which thumb taps, a sound or a vibration before a critical rule is broken, light or dark.
// Kept in the browser's store, for each person apart; a device that keeps nothing begins anew.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { ask } from "./ask.js";
import { button, h, key } from "./dom.js";

const KEPT = "floor.likes";
const FIRST = Object.freeze({ hand: "right", sound: false, buzz: false, light: "device" });

function everybodys() {
  try {
    return JSON.parse(localStorage.getItem(KEPT)) ?? {};
  } catch {
    return {};
  }
}

export function makeSettings(staff) {
  let now = { ...FIRST, ...everybodys()[staff] };
  const listeners = [];
  return {
    get: () => now,
    set(patch) {
      now = { ...now, ...patch };
      try {
        localStorage.setItem(KEPT, JSON.stringify({ ...everybodys(), [staff]: now }));
      } catch {
        // it holds until the page is left
      }
      for (const listener of listeners) listener(now);
    },
    on(listener) {
      listeners.push(listener);
      listener(now);
    },
  };
}

// A hand is a place on the device, not in the text: where text runs from right to left, the right hand is where lines begin.
export function handSwitch(floor, root) {
  const { settings } = floor;
  const open = button("", () => offer(floor), "act act-soft hand-switch");
  root.append(open);
  settings.on(({ hand, light }) => {
    const leftward = getComputedStyle(document.documentElement).direction === "rtl";
    document.body.dataset.keys = (hand === "right") === leftward ? "start" : "end";
    if (light === "device") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = light;
    const keys = { left: gettext("Keys: left hand"), right: gettext("Keys: right hand") }[hand];
    open.replaceChildren(keys);
    open.setAttribute("aria-label", fill(gettext("{hand}: hand, sound and light"), { hand: keys }));
  });
}

const HANDS = () => ({ left: gettext("Left hand"), right: gettext("Right hand") });

function offer({ settings, alarm }) {
  const one = (name, label, words) => h("fieldset", { class: "field" }, h("legend", { class: "label" }, label), h("div", { class: "keys" },
    Object.entries(words).map(([value, word]) => key({ name: `like-${name}`, value, words: word, checked: settings.get()[name] === value, onchange: () => settings.set({ [name]: value }) }))));
  const onOff = (name, words) => key({ name: `like-${name}`, value: "on", type: "checkbox", words, checked: settings.get()[name], onchange: (event) => { settings.set({ [name]: event.target.checked }); if (event.target.checked) alarm.sample(name); } });
  ask(gettext("This tablet, for you"), h("div", { class: "asks" },
    one("hand", gettext("The thumb that taps"), HANDS()),
    h("fieldset", { class: "field" }, h("legend", { class: "label" }, gettext("When a critical rule is about to be broken")), h("div", { class: "keys" },
      onOff("sound", gettext("Sound a tone")), onOff("buzz", gettext("Vibrate")))),
    one("light", gettext("Light"), { device: gettext("As the device"), light: gettext("Bright"), dark: gettext("Dark") })), { cls: "ask-near", close: gettext("Done") });
}
