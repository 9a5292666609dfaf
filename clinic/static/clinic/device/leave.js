// Coming and going on a device that several people use. Whoever signs out takes the key along: with it goes everything that was
// kept for reading. So it does when somebody else signs in, and when the device was revoked. What was recorded and is not sent
// outlives that as sealed copies, which are brought to the server by whoever is signed in next (passed.js).

import { fill, gettext, ngettext } from "../js/gettext.js";
import { REVOKED } from "./call.js";
import { within } from "./database.js";
import { passOn } from "./passed.js";
import { sayPassed } from "./passedwords.js";
import { keepSealingKey } from "./sealing.js";
import { destroy, open, unsealed, whose } from "./vault.js";

const PATIENCE = 3000; // milliseconds: nobody is kept from leaving by a slow store

const atMost = (work) => Promise.race([work, new Promise((resolve) => setTimeout(resolve, PATIENCE))]);

/** Destroy what the key opens. False where somebody would rather stay than lose what cannot be sealed. */
export async function leave() {
  const lost = (await atMost(unsealed().catch(() => 0))) ?? 0;
  const sentence = ngettext(
    "{n} mark is not sent and cannot be sealed: it is lost when you leave now. Leave all the same?",
    "{n} marks are not sent and cannot be sealed: they are lost when you leave now. Leave all the same?",
    lost,
  );
  if (lost && !globalThis.confirm(fill(sentence, { n: lost }))) return false;
  await atMost(destroy().catch(() => {}));
  return true;
}

// Whoever signs out while marks of theirs are not sent would find them waiting for their own hand, and for nothing where the
// server could be had: that is said first. False where they stay.
async function leavesUnsent({ signedIn }) {
  const rows = await atMost(within("kept", "readonly", (kept) => kept.getAll()).catch(() => []));
  const n = (rows ?? []).filter((row) => row.staff === signedIn && row.state === "waiting").length;
  const sentence = ngettext(
    "{n} mark of yours is not sent. Today and End of the day send it as soon as the server is in reach. If you leave now, it stays on this device, sealed: whoever signs in here next passes it on, and it waits for you until you record it. Leave all the same?",
    "{n} marks of yours are not sent. Today and End of the day send them as soon as the server is in reach. If you leave now, they stay on this device, sealed: whoever signs in here next passes them on, and they wait for you until you record them. Leave all the same?",
    n,
  );
  return !n || globalThis.confirm(fill(sentence, { n }));
}

// Forms by which somebody leaves. The Floor asks more before it hands over (floor/handover.js).
function watchForms() {
  if (document.body.classList.contains("p-floor")) return;
  for (const form of document.querySelectorAll("form[data-leaves]")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if ((await leavesUnsent(document.body.dataset)) && (await leave())) form.submit();
    });
  }
}

/** Somebody is signed in here: whatever was somebody else's goes, and what they could not send is passed on. */
async function arrive(staff) {
  await keepSealingKey();
  const before = await whose();
  if (before && before !== staff) await open(staff);
  if (document.getElementById("floor-config")) return; // where a page keeps facts itself, it passes them on itself
  sayPassed(await passOn(staff), staff);
}

/** On every page of somebody signed in. */
export function watchLeaving() {
  const { signedIn } = document.body.dataset;
  watchForms();
  addEventListener(REVOKED, async () => {
    await atMost(destroy().catch(() => {}));
    location.replace("/sign-in/"); // which says what became of it
  }, { once: true });
  if (signedIn) arrive(signedIn).catch(() => {}); // no store, or no network: nothing is here, or it stays where it is
}
