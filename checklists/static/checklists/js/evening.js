// What waits in this device's store, a count a person, and sending it: the Floor's own safekeeping, without a person of its own.

import { clock } from "../../clinic/device/asof.js";
import { lasting } from "../../clinic/device/lasting.js";
import { fill, gettext, ngettext } from "../../clinic/js/gettext.js";
import { h, put } from "../floor/dom.js";
import { outbox } from "../floor/outbox.js";
import * as queue from "../floor/queue.js";

const root = document.querySelector("[data-unsent]");
const part = (name) => root.querySelector(`[data-unsent-${name}]`);
const { staff } = JSON.parse(document.getElementById("floor-config").textContent);
const mark = () => document.querySelector("template[data-unsent-mark]").content.firstElementChild.cloneNode(true);
const { store, keeping } = outbox(staff);
const open = (rows) => rows.filter((row) => row.state === "waiting" || row.state === "refused");

function byPerson(rows) {
  const found = new Map();
  for (const row of rows) {
    const one = found.get(row.episode) ?? { episode: row.episode, person: row.person, waiting: 0, refused: 0 };
    one[row.state] += 1;
    found.set(row.episode, one);
  }
  return [...found.values()];
}

function line({ episode, person, waiting, refused }) {
  const what = [
    waiting ? fill(gettext("{n} not sent"), { n: waiting }) : "",
    refused ? fill(gettext("{n} not taken: see the list on the Floor"), { n: refused }) : "",
  ];
  return h("li", {}, h("a", { href: `/floor/${episode}/` }, h("span", { class: "open-mark is-waiting" }, mark()), h("span", { class: "open-who" }, h("b", {}, person)), h("span", { class: "open-what" }, what.filter(Boolean).join(" · "))));
}

function words(own, sealed, { net, tried, waitForMe, queue: looked }) {
  const said = [];
  if (looked === "unread") return gettext("Looking for what waits on this device …");
  if (looked === "closed") said.push(gettext("This device’s store does not answer: whether something waits here is not known. Open this page again; if it stays so, restart the browser, and tell a clinic lead."));
  const n = own.length;
  if (n) said.push(fill(ngettext("{n} of yours waits on this device.", "{n} of yours wait on this device.", n), { n }));
  if (n && net.kind === "unreachable") said.push(gettext("The server is not in reach: they are kept here, and go by themselves."), tried ? fill(gettext("Tried at {time}."), { time: clock(tried) }) : "");
  if (sealed.length) said.push(fill(ngettext("{n} of a colleague waits here sealed, to be passed on.", "{n} of a colleague wait here sealed, to be passed on.", sealed.length), { n: sealed.length }));
  if (waitForMe) said.push(fill(ngettext("{n} mark waits for you: see Today.", "{n} marks wait for you: see Today.", waitForMe), { n: waitForMe }));
  return said.filter(Boolean).join(" ") || gettext("Everything that was recorded on this device is sent.");
}

// What the browser has said about keeping it when its disk is full.
const LASTS = {
  true: () => gettext("This browser has promised to keep what is on this device, even when its disk is full."),
  false: () => gettext("Without a signal this device keeps what you record. Only when its disk is full may this browser clear it: send before you put the device away, and ask a clinic lead to install this app on it."),
  lead: () => gettext("Without a signal this device keeps what you record. Only when its disk is full may this browser clear it: send before you put the device away, and install this app on it: in the browser’s menu, “Install” or “Add to home screen”."),
  null: () => gettext("This browser makes no promise to keep what is on this device when its disk is full. Send before you put the device away."),
};

// Who has asked for that promise reads what the browser answered, each time anew.
const lastly = ({ lasts, asked }) => (asked && lasts === false ? `${fill(gettext("Asked at {time}: it does not promise it."), { time: clock(asked) })} ` : "");

store.on((state) => {
  const own = open(state.elsewhere);
  part("words").textContent = words(own, state.others, state);
  part("list").replaceChildren(...byPerson(own).map(line));
  part("send").hidden = !own.some((row) => row.state === "waiting") || state.net.kind === "signed_out";
  const mayBeLost = own.length > 0 || state.others.length > 0 || state.queue === "closed";
  put(part("lasts"), state.lasts === undefined || !mayBeLost ? "" : `${lastly(state)}${LASTS[state.lasts === false && "installs" in root.dataset ? "lead" : state.lasts]()}`);
  part("lasts-ask").hidden = state.lasts !== false || !mayBeLost;
  part("door").hidden = state.net.kind !== "signed_out";
});
part("lasts-ask").addEventListener("click", async () => store.set({ lasts: await lasting(), asked: Date.now() }));
part("send").addEventListener("click", () => {
  store.set({ tried: Date.now() });
  keeping.retry();
});
await keeping.load();

// After the server was put back from a backup: what it may have lost is still here for thirty days.
const again = part("again");
const { own, sealed } = await queue.sent(staff.reference).catch(() => ({ own: [], sealed: [] }));
const kept = own.length + sealed.length;
again.hidden = kept === 0;
part("again-words").textContent = fill(ngettext("{n} mark that was sent from this device is still on it.", "{n} marks that were sent from this device are still on it.", kept), { n: kept });
part("again-send").addEventListener("click", async () => {
  part("again-send").disabled = true;
  const n = await keeping.again();
  part("again-words").textContent = fill(ngettext("{n} mark is on its way again. What the server has already it does not take twice.", "{n} marks are on their way again. What the server has already it does not take twice.", n), { n });
});
