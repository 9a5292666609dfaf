// Handing the session to a colleague, on a gym's tablet (names and PINs) and on one's own sign-in (a question first: it signs out).
// What is not sent yet stays on the device, sealed, under its own name. Without the server nobody comes in, so nobody is sent away
// from this page either.

import { leave } from "../../clinic/device/leave.js";
import { fill, gettext } from "../../clinic/js/gettext.js";
import { ask, dismiss } from "./ask.js";
import { button, h } from "./dom.js";
import { call } from "./sender.js";
import { leaveNothing } from "./unrecorded.js";

const PATIENCE = 3000;

export function handOver(floor) {
  const { config, store, keeping } = floor;
  const form = document.querySelector("form.hand-over");
  const go = async () => (await leave()) && form.submit();
  form?.addEventListener("submit", (event) => {
    event.preventDefault();
    leaveNothing(floor, () => (form.dataset.handOver === "own" ? leaving(hand, config.others) : hand()));
  });

  async function hand() {
    await sent();
    const { kind } = await call(config.addresses.state);
    if (kind === "unreachable") return stay();
    const unsent = [...store.get().kept, ...store.get().elsewhere].filter((row) => row.state === "waiting").length;
    return unsent ? confirm(go, unsent) : go();
  }

  function sent() {
    keeping.retry();
    const until = Date.now() + PATIENCE;
    return new Promise((resolve) => {
      const look = () => (keeping.busy() && Date.now() < until ? setTimeout(look, 100) : resolve());
      look();
    });
  }
}

function leaving(hand, others) {
  const may = others ? fill(gettext("Who may: {names}."), { names: others }) : gettext("Nobody else may go on with this person.");
  const dialog = ask(gettext("Pass this tablet to a colleague"), h("div", { class: "asks" },
    h("p", {}, gettext("You will be signed out. The session stays open: your colleague signs in here and goes on with this person.")),
    h("p", { class: "quiet" }, may, " ", gettext("Anybody else comes to a page of their own.")),
    h("p", { class: "acts" }, button(gettext("Sign out and pass it on"), () => { dismiss(dialog); hand(); }, "act act-main"))), { cls: "ask-near" });
}

function stay() {
  ask(gettext("No connection"), h("p", {}, gettext("A colleague cannot come in without one. What you record is kept on this tablet, under your name.")));
}

function confirm(go, unsent) {
  ask(fill(gettext("{n} not sent yet"), { n: unsent }), h("div", { class: "asks" },
    h("p", {}, gettext("They stay on this tablet, sealed: nobody can read them here. Whoever signs in next passes them on, and they wait for you on Today, to be recorded under your own name.")),
    h("p", { class: "acts" }, button(gettext("Pass it on all the same"), go, "act act-main"))));
}
