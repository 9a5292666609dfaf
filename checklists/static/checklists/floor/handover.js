// Handing the tablet to a colleague: what is not sent yet stays on it under its own name. Without the server nobody comes in,
// so nobody is sent away from this page either.

import { ask, button, h } from "./dom.js";

const PATIENCE = 3000;

export function handOver({ store, core, keeping }) {
  const form = document.querySelector("[data-hand-over]")?.form;
  form?.addEventListener("submit", async (event) => {
    event.preventDefault();
    await sent();
    const { kind } = await core.state();
    if (kind === "unreachable") return stay();
    const unsent = [...store.get().kept, ...store.get().elsewhere].filter((row) => row.state === "waiting").length;
    if (unsent) return confirm(form, unsent);
    form.submit();
  });

  function sent() {
    keeping.retry();
    const until = Date.now() + PATIENCE;
    return new Promise((resolve) => {
      const look = () => (keeping.busy() && Date.now() < until ? setTimeout(look, 100) : resolve());
      look();
    });
  }
}

function stay() {
  ask("No connection", h("p", {}, "A colleague cannot come in without one. What you record is kept on this tablet, under your name."));
}

function confirm(form, unsent) {
  ask(`${unsent} not sent yet`, h("div", { class: "asks" },
    h("p", {}, "They stay on this tablet, under your name, and are sent when you come in here again."),
    h("p", { class: "acts" }, button("Hand over all the same", () => form.submit(), "act act-main"))));
}
