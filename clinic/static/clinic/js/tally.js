// Asks every few seconds how many alerts are open. Being asked by a page keeps no session alive: the server knows it as a poll.
import { fill, gettext, ngettext } from "./gettext.js";
import { coverPage } from "./cover.js";
import { heardOfEnd } from "./ending.js";

const EVERY = 4000;

export function watchAlerts() {
  const news = document.querySelector("[data-tally-news]");
  if (!news) return;
  const tally = document.querySelector("[data-tally]");
  let before = null;

  function show({ open, mine, critical, latest, word }) {
    if (tally) {
      tally.toggleAttribute("data-none", mine === 0); // what others answer is on the page, and no number calls the reader to it
      const seen = document.createElement("span");
      seen.setAttribute("aria-hidden", "true");
      seen.textContent = mine;
      const unseen = document.createElement("span");
      unseen.className = "unseen";
      unseen.textContent = critical
        ? fill(gettext("open: {n}, critical: {critical}"), { n: mine, critical })
        : fill(gettext("open: {n}"), { n: mine });
      tally.replaceChildren(seen, unseen);
    }
    if (before !== null && (latest > before.latest || open > before.open)) {
      news.textContent = (latest > before.latest && word) || fill(ngettext("{n} alert waits for an answer", "{n} alerts wait for an answer", open), { n: open });
      document.dispatchEvent(new CustomEvent("clinic:alerts"));
    }
    before = { latest, open };
  }

  async function ask() {
    if (document.hidden) return;
    try {
      const answer = await fetch(news.dataset.address, { headers: { Accept: "application/json" }, redirect: "error" });
      if (answer.status < 500) document.dispatchEvent(new CustomEvent("clinic:heard"));
      if (answer.status === 401) return coverPage();
      heardOfEnd(answer.headers.get("X-Session-Ends-In"), news.dataset.stay);
      if (answer.ok) show(await answer.json());
    } catch {
      // no signal, or the server is away: the next turn asks again
    }
  }

  ask();
  setInterval(ask, EVERY);
  document.addEventListener("visibilitychange", ask);
}
