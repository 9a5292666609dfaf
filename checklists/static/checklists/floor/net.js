// What is not sent, always in view, in words and shape; and what to do where sending needs a hand. Beside it a clock that is wrong.

import { fill, gettext, ngettext } from "../../clinic/js/gettext.js";
import { button, h, put } from "./dom.js";

const SAID = ["waiting", "refused"];

export function net({ config, store, keeping }, root) {
  const line = h("p", { class: "net", role: "status", "data-floor-net": true });
  const help = h("span", {});
  const clock = h("p", { class: "net-clock", role: "status", "data-floor-clock": true });
  root.append(line, help, clock);
  let last = "";
  store.on((state) => {
    put(clock, clockWords(state.clockError ?? 0));
    const counts = counted(state);
    const now = JSON.stringify([counts, state.net, state.unkept, state.waitForMe, state.queue]);
    if (now === last) return;
    last = now;
    const unsent = Object.values(counts).some(Boolean);
    line.className = unsent || state.queue === "closed" ? "net net-wait" : "net";
    const mark = unsent || UNKNOWN[state.queue] ? "unsent" : "sent";
    line.replaceChildren(h("span", { class: mark, "aria-hidden": "true" }), ` ${words(state, counts)}`);
    help.replaceChildren(...whatToDo(state, counts));
  });

  function whatToDo(state, { open, away }) {
    if (state.net.kind === "signed_out") {
      return [h("a", { class: "act", href: `${config.addresses.signIn}?next=${encodeURIComponent(location.pathname)}` }, gettext("Sign in again to send"))];
    }
    const found = (open || away) && state.net.kind !== "ok" ? [button(gettext("Send now"), () => keeping.retry(), "act act-soft")] : [];
    const mine = state.waitForMe ?? 0;
    if (mine) found.push(h("a", { class: "act act-soft", href: "/waiting/" }, fill(ngettext("{n} mark waits for you", "{n} marks wait for you", mine), { n: mine })));
    return found;
  }
}

function counted(state) {
  const of = (rows, kind) => rows.filter((row) => row.state === kind).length;
  return {
    open: of(state.kept, "waiting") + state.taking, // with what was just tapped, and is being taken
    unwritten: state.taking + state.kept.filter((row) => row.state === "waiting" && row.onDisk === null).length,
    refused: of(state.kept, "refused"),
    away: of(state.elsewhere, "waiting"),
    awayRefused: of(state.elsewhere, "refused"),
    sealed: (state.others ?? []).length,
  };
}

// "all sent" only where the queue was looked into.
const UNKNOWN = {
  unread: () => gettext("looking for what waits here"),
  closed: () => gettext("this device’s store does not answer: whether something waits here is not known"),
};

const WHY = {
  crypto: () => gettext("this browser cannot encrypt at this address"),
  full: () => gettext("this device is full"),
  store: () => gettext("this device’s store does not answer"),
};

// "kept on this tablet" only of what is on its disk.
function where(state, { unwritten }) {
  if (state.unkept) return fill(gettext("kept in this page only, do not close it: {reason}"), { reason: (WHY[state.unkept] ?? WHY.store)() });
  return unwritten ? "" : gettext("kept on this tablet");
}

function words(state, counts) {
  const parts = [];
  if (counts.open) parts.push(fill(gettext("{n} not sent"), { n: counts.open }), where(state, counts));
  if (counts.refused) parts.push(fill(gettext("{n} not taken: see the list"), { n: counts.refused }));
  if (counts.away + counts.awayRefused) {
    const rows = state.elsewhere.filter((row) => SAID.includes(row.state));
    const people = [...new Set(rows.map((row) => row.person))].join(", ");
    const [n, refused] = [rows.length, counts.awayRefused];
    parts.push(fill(refused ? gettext("{n} of {people} not taken") : gettext("{n} of {people} not sent"), { n, people }));
  }
  if (counts.sealed) parts.push(fill(ngettext("{n} of a colleague waits sealed to be passed on", "{n} of a colleague wait sealed to be passed on", counts.sealed), { n: counts.sealed }));
  return parts.filter(Boolean).join(" · ") || (UNKNOWN[state.queue]?.() ?? gettext("all sent"));
}

function clockWords(error) {
  if (!error) return "";
  const seconds = Math.round(Math.abs(error) / 1000);
  const [n, unit] = seconds < 120 ? [seconds, "s"] : seconds < 7200 ? [Math.round(seconds / 60), "min"] : [Math.round(seconds / 3600), "h"];
  const by = `${n} ${unit}`; // symbols of the SI: the same in every language
  return error > 0
    ? fill(gettext("This tablet’s clock is {by} fast. Marks bear the server’s time."), { by })
    : fill(gettext("This tablet’s clock is {by} slow. Marks bear the server’s time."), { by });
}
