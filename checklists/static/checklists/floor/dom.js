// Making and finding elements. Text goes in as text, never as markup.

export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name in DIRECT) element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

const DIRECT = { checked: 1, disabled: 1, hidden: 1, value: 1 };

const LONGEST_WAIT = 300; // milliseconds: a page out of sight draws nothing

// When what was changed until now is on the screen: heavy work waits for it, so that a tap is answered first.
export const nextPicture = () => new Promise((resolve) => {
  requestAnimationFrame(() => setTimeout(resolve));
  setTimeout(resolve, LONGEST_WAIT);
});

// What is only made beforehand waits until nothing else is to be done.
export const whenIdle = (work) => (globalThis.requestIdleCallback ? requestIdleCallback(work) : setTimeout(work, LONGEST_WAIT));

// A drawing of the server's, by name: copied from the <template data-picture> that the page brought.
export function picture(name) {
  const template = document.querySelector(`template[data-picture="${name}"]`);
  return template ? template.content.firstElementChild.cloneNode(true) : document.createTextNode("");
}

export const find = (name, root = document) => root.querySelector(`[data-floor="${name}"]`);

export function say(status, word) {
  return h("span", { class: `say is-${status}` }, picture(`mark-${status}`), h("span", {}, word));
}

export function note(kind, head, ...lines) {
  return h(
    "div",
    { class: `note note-${kind}` },
    h("span", { class: "note-sign" }, picture(`mark-${kind}`)),
    h("div", {}, h("p", { class: "note-head" }, head), lines.filter(Boolean).map((line) => h("p", {}, line))),
  );
}

// Say something where it stands, or in a live region, only when it is not said already: a region whose text is put in again
// is read out again.
export function put(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

// Make `wanted` the children, in this order, and touch none that stands where it should.
export function arrange(parent, wanted) {
  const stays = new Set(wanted);
  for (const child of [...parent.children]) if (!stays.has(child)) child.remove();
  wanted.forEach((element, place) => {
    if (parent.children[place] !== element) parent.insertBefore(element, parent.children[place] ?? null);
  });
}

// A key that holds one choice: a radio button or a check box under a flat key. `said` is its name where its words alone
// would not tell what it does (it must contain them).
export function key({ name, value, words, small, said, type = "radio", checked = false, onchange, cls = "", lead = null }) {
  const input = h("input", { type, name, value, checked, onchange, onkeydown: type === "radio" ? wander : null, "data-value": value, "aria-label": said });
  const face = h("span", {}, lead, h("span", { class: "key-words" }, words, small ? h("small", {}, small) : null));
  return h("label", { class: `key ${cls}` }, input, face);
}

// Arrows go from one key of a group to the next and choose nothing, Space chooses: on the way to the third key the second
// would be in the record.
const STEPS = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };

function wander(event) {
  if (!(event.key in STEPS)) return;
  event.preventDefault();
  const mirrored = /Left|Right/.test(event.key) && getComputedStyle(event.target).direction === "rtl";
  const group = [...document.querySelectorAll(`input[type=radio][name="${CSS.escape(event.target.name)}"]:not(:disabled)`)].filter((one) => one.checkVisibility());
  const next = group.indexOf(event.target) + (mirrored ? -1 : 1) * STEPS[event.key];
  group.at(next % group.length)?.focus();
}

export function button(words, onclick, cls = "act", more = {}) {
  return h("button", { type: "button", class: cls, onclick, ...more }, words);
}
