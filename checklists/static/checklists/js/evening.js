// What waits in this device's store, a count a person, and sending it: the Floor's own safekeeping, without a person of its own.

import { h } from "../floor/dom.js";
import { safekeeping } from "../floor/safekeeping.js";
import { makeStore } from "../floor/store.js";

const root = document.querySelector("[data-unsent]");
const part = (name) => root.querySelector(`[data-unsent-${name}]`);
const { staff } = JSON.parse(document.getElementById("floor-config").textContent);
const mark = () => document.querySelector("template[data-unsent-mark]").content.firstElementChild.cloneNode(true);

// On this page every person is 'elsewhere': there is no episode whose facts would be shown as they are recorded.
const store = makeStore({ server: { facts: [] }, kept: [], elsewhere: [], others: [], facts: 0, net: { kind: "ok" } });
const keeping = safekeeping({ config: { staff, episode: null, person: {}, addresses: {} }, store, refresh: async () => {} });

function byPerson(rows) {
  const found = new Map();
  for (const row of rows) {
    const one = found.get(row.episode) ?? { episode: row.episode, person: row.person, waiting: 0, refused: 0 };
    one[row.state === "refused" ? "refused" : "waiting"] += 1;
    found.set(row.episode, one);
  }
  return [...found.values()];
}

function line({ episode, person, waiting, refused }) {
  const what = [waiting ? `${waiting} not sent` : "", refused ? `${refused} not taken: see the list on the Floor` : ""].filter(Boolean).join(" · ");
  return h("li", {}, h("a", { href: `/floor/${episode}/` }, h("span", { class: "open-mark is-waiting" }, mark()), h("span", { class: "open-who" }, h("b", {}, person)), h("span", { class: "open-what" }, what)));
}

function words(own, others, kind) {
  const names = [...new Set(others.map((row) => row.staffName))].join(", ");
  const said = [];
  if (own.length) said.push(`${own.length} of yours ${own.length === 1 ? "waits" : "wait"} on this device.`);
  if (own.length && kind === "unreachable") said.push("The server is not in reach: they are kept here.");
  if (others.length) said.push(`${others.length} of ${names} ${others.length === 1 ? "waits" : "wait"} for their sign-in.`);
  return said.join(" ") || "Everything that was recorded on this device is sent.";
}

store.on(({ elsewhere, others, net }) => {
  const waiting = elsewhere.some((row) => row.state === "waiting");
  part("words").textContent = words(elsewhere, others, net.kind);
  part("list").replaceChildren(...byPerson(elsewhere).map(line));
  part("send").hidden = !waiting || net.kind === "signed_out";
  part("door").hidden = net.kind !== "signed_out";
});
part("send").addEventListener("click", () => keeping.retry());
await keeping.load();
