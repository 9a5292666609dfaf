// In place of a page that is not on this device: which page was asked for, and what can be done from here. Today is offered where this
// device keeps it.

import { fill, gettext } from "../js/gettext.js";
import { keptSince } from "./pages.js";
import * as vault from "./vault.js";

const main = document.querySelector("[data-no-signal]");
const part = (name) => main.querySelector(`[data-${name}]`);
const names = JSON.parse(document.getElementById("names-of-pages").textContent);

const name = names.find(([address]) => address !== "/" && location.pathname.startsWith(address))?.[1];
if (name) part("again").textContent = fill(gettext("Try again: {page}"), { page: name });

part("still").hidden = (await vault.whose().catch(() => null)) === null;
const kept = (await keptSince(["/"]).catch(() => new Map())).get("/");
part("today").hidden = location.pathname === "/" || !kept || Date.now() - kept > Number(main.dataset.noSignal) * 3_600_000;
