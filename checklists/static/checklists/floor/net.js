// What is not sent, always in view, in words and shape; and what to do where sending needs a hand.

import { button, h } from "./dom.js";

export function net({ config, store, keeping }, root) {
  const line = h("p", { class: "net", role: "status", "data-floor-net": true });
  const help = h("span", {});
  root.append(line, help);
  let last = "";
  store.on((state) => {
    const open = state.kept.filter((row) => row.state === "waiting").length;
    const refused = state.kept.filter((row) => row.state === "refused").length;
    const away = state.elsewhere.length;
    const now = JSON.stringify([open, refused, away, state.net, state.others.length, state.unkept]);
    if (now === last) return;
    last = now;
    line.className = open || refused || away || state.others.length ? "net net-wait" : "net";
    line.replaceChildren(h("span", { class: open || refused || away ? "unsent" : "sent", "aria-hidden": "true" }), ` ${words(state, open, refused)}`);
    help.replaceChildren(...whatToDo(state, open + away));
  });

  function words(state, open, refused) {
    const kept = state.unkept ? "kept in this page only: do not close it" : "kept on this tablet";
    const parts = [];
    if (open) parts.push(`${open} not sent · ${kept}`);
    if (refused) parts.push(`${refused} not taken: see the list`);
    if (state.elsewhere.length) {
      const people = [...new Set(state.elsewhere.map((row) => row.person))].join(", ");
      parts.push(`${state.elsewhere.length} of ${people} ${state.elsewhere.some((row) => row.state === "refused") ? "not taken" : "not sent"}`);
    }
    if (state.others.length) {
      const names = [...new Set(state.others.map((row) => row.staffName))].join(", ");
      parts.push(`${state.others.length} of ${names} wait for their sign-in`);
    }
    return parts.join(" · ") || "all sent";
  }

  function whatToDo(state, open) {
    if (state.net.kind === "signed_out") {
      return [h("a", { class: "act", href: `${config.addresses.signIn}?next=${encodeURIComponent(location.pathname)}` }, "Sign in again to send")];
    }
    return open && state.net.kind !== "ok" ? [button("Send now", () => keeping.retry(), "act act-soft")] : [];
  }
}
