// Today takes its people along: for each the Floor's page and the record behind it, fetched before anybody needs them, and only
// what changed. Each row says when it was last brought up to date on this device. What waits on the device is sent from here, too:
// whoever left the Floor without a signal finds it again on this page.

import { clock } from "../../clinic/device/asof.js";
import { call } from "../../clinic/device/call.js";
import { forgetPage, keepPage, keptSince, mayBeKept } from "../../clinic/device/pages.js";
import { fill, gettext, ngettext } from "../../clinic/js/gettext.js";
import { button, h } from "../floor/dom.js";
import { asKept, grown } from "../floor/fold.js";
import { outbox } from "../floor/outbox.js";
import { fetched, forget, keep, stored } from "../floor/packs.js";
import { unsent } from "../floor/queue.js";

const AT_ONCE = 3;
const FRESH = 10 * 60_000; // a page that was fetched in the last ten minutes is not fetched again, unless the record changed

const staff = document.body.dataset.signedIn;
const rows = [...document.querySelectorAll("[data-along]")];

function say(row, kept) {
  row.textContent = fill(gettext("on this tablet {time}"), { time: clock(kept) });
  row.dataset.onDevice = "";
}

// The pack: whether it is on the device, changed just now, not ours any more, and when the server last said how it stands.
async function record({ along: episode, pack: address }) {
  const have = (await stored(episode, staff))?.pack ?? null;
  const { kind, pack } = await fetched(address, have);
  if (kind === "refused") await forget(episode);
  if (kind !== "ok") return { here: have !== null, changed: false, gone: kind === "refused" };
  const changed = !have || pack.entries.length > 0;
  const whole = have && !pack.protocol.document ? grown(have, pack, new Date()) : asKept(pack, new Date());
  return { here: changed ? await keep(whole, staff) : true, changed, gone: false, now: Date.now() };
}

async function page(address) {
  const asked = Date.now();
  const response = await fetch(address, { headers: { Accept: "text/html", "X-Taken-Along": "1" }, redirect: "manual" });
  return mayBeKept(response) && (await keepPage(address, response, asked)) ? asked : null;
}

async function alongWith(row, known) {
  const { page: address } = row.dataset;
  const { here, changed, gone, now } = await record(row.dataset);
  if (gone) return forgetPage(address);
  let kept = known.get(address) ?? null;
  if (changed || kept === null || Date.now() - kept > FRESH) kept = (await page(address).catch(() => null)) ?? kept;
  if (here && kept !== null) say(row, now ? Math.max(kept, now) : kept);
}

// The pages of the day itself: the worker keeps them when they are opened, but it may not have been there yet.
async function own(known) {
  for (const address of document.querySelector("[data-along-too]").dataset.alongToo.split(" ")) {
    if (!known.has(address) || Date.now() - known.get(address) > FRESH) await page(address).catch(() => null);
  }
}

async function takeAlong() {
  const addresses = [...rows.map((row) => row.dataset.page), ...document.querySelector("[data-along-too]").dataset.alongToo.split(" ")];
  const known = await keptSince(addresses);
  const left = [...rows];
  const some = async () => {
    while (left.length) await alongWith(left.shift(), known).catch(() => {});
  };
  await Promise.all(Array.from({ length: AT_ONCE }, some));
  await own(known);
}

// One line for the whole device: what is not sent, whom it keeps, and whether it can be carried where there is no signal.
async function thisTablet() {
  const { own, sealed } = await unsent(staff);
  const waiting = own.filter((row) => row.state === "waiting").length;
  const kept = rows.filter((row) => "onDevice" in row.dataset).length;
  const worker = navigator.serviceWorker;
  const whole = kept === rows.length && Boolean(worker);
  const line = document.querySelector("[data-this-tablet]");
  line.toggleAttribute("data-at-risk", own.length > 0 || sealed.length > 0 || !whole);
  const said = [
    waiting ? fill(gettext("{n} not sent"), { n: waiting }) : "",
    own.length > waiting ? fill(gettext("{n} not taken: see End of the day"), { n: own.length - waiting }) : "",
    own.length ? "" : gettext("all sent"),
    sealed.length ? fill(gettext("{n} of a colleague sealed, to be passed on"), { n: sealed.length }) : "",
    kept === rows.length ? fill(ngettext("{n} person kept", "{n} people kept", kept), { n: kept }) : fill(gettext("{n} of {all} people kept"), { n: kept, all: rows.length }),
    whole && worker.controller ? gettext("works without a signal") : whole ? gettext("getting ready to work without a signal") : gettext("not yet ready to work without a signal: open this page again"),
  ];
  line.textContent = fill(gettext("This tablet: {state}"), { state: said.filter(Boolean).join(", ") });
}

// What is to be done about it: a hand where sending needs one; and once all is taken, the day as it is now. What is not taken
// End of the day leads on with.
function toDo({ elsewhere, net }) {
  const waiting = elsewhere.some((row) => row.state === "waiting");
  if (!waiting && elsewhere.length) return [];
  if (!waiting) return [h("a", { href: "" }, gettext("Sent. Show the day as it is now"))];
  if (net.kind === "signed_out") return [h("a", { class: "act", href: `/sign-in/?next=${encodeURIComponent(location.pathname)}` }, gettext("Sign in again to send"))];
  return net.kind === "ok" ? [] : [button(gettext("Send now"), () => sending.keeping.retry(), "act act-soft")];
}

let sending = null; // begun when something waits

async function send() {
  const { own } = await unsent(staff);
  if (sending || !own.some((row) => row.state === "waiting")) return;
  sending = outbox({ reference: staff }, { passes: false });
  const { store, keeping } = sending;
  await keeping.load();
  let waited = true;
  store.on((state) => {
    document.querySelector("[data-this-tablet-do]").replaceChildren(...toDo(state));
    const waits = state.elsewhere.some((row) => row.state === "waiting");
    if (waited && !waits) again(); // the record has grown: so does the copy of it that is kept here
    waited = waits;
    void thisTablet().catch(() => {});
  });
}

let busy = null;
const again = () => {
  void send().catch(() => {}); // no store, no key: the pages work while the server does
  busy ??= takeAlong().catch(() => {}).then(() => thisTablet()).catch(() => {}).finally(() => { busy = null; });
};

again();
addEventListener("online", again);
navigator.serviceWorker?.addEventListener("controllerchange", () => void thisTablet().catch(() => {}));
