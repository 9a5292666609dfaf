// What is said on the page that passed on what colleagues had left on this device: how many for whom, a line each, above the page
// where the server's own answers stand. Whoever may not read for whom marks wait is given no name, and reads how many.

import { fill, gettext, ngettext } from "../js/gettext.js";

const OTHERS = Symbol("of whom no name is given");

/** `[who, n]` of each author: a reference that is known by name or is the reader's own, the others together. */
export function counted({ passed, names }, reader) {
  const many = new Map();
  for (const { staff } of passed) {
    const who = staff === reader || Object.hasOwn(names, staff) ? staff : OTHERS;
    many.set(who, (many.get(who) ?? 0) + 1);
  }
  return [...many];
}

function line(who, n, names, reader) {
  const item = document.createElement("li");
  const way = document.createElement("a");
  if (who === reader) {
    item.append(fill(ngettext("{n} mark of yours passed on: it waits for you.", "{n} marks of yours passed on: they wait for you.", n), { n }));
    way.href = "/waiting/";
    way.textContent = gettext("Look at what waits");
  } else if (who === OTHERS) {
    item.append(fill(ngettext("{n} mark of a colleague passed on: it waits for whoever recorded it.", "{n} marks of colleagues passed on: they wait for whoever recorded them.", n), { n }));
    return item;
  } else {
    const words = ngettext("{n} mark of {name} passed on: it waits until {name} records it.", "{n} marks of {name} passed on: they wait until {name} records them.", n);
    item.append(fill(words, { n, name: names[who] }));
    way.href = "/tablets/";
    way.textContent = gettext("Gym tablets");
  }
  item.append(" ", way);
  return item;
}

/** Say it; nothing where nothing was passed on. */
export function sayPassed({ passed, names }, reader) {
  const main = document.getElementById("main");
  if (!passed.length || !main) return;
  const said = document.createElement("div");
  said.setAttribute("role", "status");
  said.className = "no-print";
  main.before(said); // a live region first, and then its words: so that they are read out
  const list = document.createElement("ul");
  list.className = "said";
  list.append(...counted({ passed, names }, reader).map(([who, n]) => line(who, n, names, reader)));
  said.append(list);
}
