// Pages that this device keeps, to be shown without a network: whole answers of the server with their headers (its policy stays
// in force), encrypted with the key of whoever they were made for. Page and worker use it alike.

import { note, putNote, within } from "./database.js";
import * as vault from "./vault.js";

const PAGE_OF = "X-Page-Of"; // clinic/web/kept_on_device.py: which pages may be kept, and whose they are
const CARRIES_ON = "x-carries-on"; // the page carries its own copy of the record on: what was recorded does not make it old
const AS_IT_CAME = new Set(["content-encoding", "content-length", "transfer-encoding", "connection", "date", "set-cookie"]);
const LEFT = "left";
const [FORM_SENT, FACTS_SENT] = ["form-sent", "facts-sent"]; // when either last went from here to the server

/** Somebody has signed out: what was asked for before that is not kept. */
export const noteLeft = () => putNote(LEFT, Date.now());

/** Whether nobody signed out since an instant (milliseconds). */
export const nobodyLeftSince = async (asked) => (await note(LEFT, 0)) < asked;

/** A form goes to the server: what is kept here was so before it. */
export const noteFormSent = (time) => putNote(FORM_SENT, time);

/** The server has facts that were recorded here: the same. */
export const noteFactsSent = () => putNote(FACTS_SENT, Date.now());

/** Whether an answer is a page that may be kept: no redirect, no refusal, no fault, nothing that is not said to be somebody's. */
export function mayBeKept(response) {
  const html = response.headers.get("Content-Type")?.startsWith("text/html");
  return response.status === 200 && response.type === "basic" && !response.redirected && html && response.headers.has(PAGE_OF);
}

/**
 * Keep an answer that nobody else reads. Resolves to whether it is on the device.
 * @param {string} address its path
 * @param {Response} response
 * @param {number} asked when it was asked for, in milliseconds
 */
export async function keepPage(address, response, asked) {
  const staff = response.headers.get(PAGE_OF);
  const headers = [...response.headers].filter(([name]) => !AS_IT_CAME.has(name.toLowerCase()));
  const body = await response.text();
  if (!(await nobodyLeftSince(asked)) || !(await vault.open(staff))) return false;
  const locked = await vault.lock({ headers, body }, staff);
  if (!locked) return false;
  const row = { address, staff, kept_at: asked, ...locked };
  await within("pages", "readwrite", (pages) => pages.put(row), { durability: "relaxed" });
  return true;
}

/**
 * The page of an address as this device keeps it; null where there is none, where it is older than a session may be, and where
 * it is not of whoever's key is here. How old it is stands in its `Server-Timing`, for the page itself to say (asof.js), with
 * whether the server is only late, and when something was sent that the page knows nothing of.
 * @param {string} address
 * @param {number} hours
 * @param {{late: boolean, form: number}} why `form`: when a form last went to the server, in milliseconds, as far as no note says it
 * @returns {Promise<{response: Response, isBefore: {form: boolean, facts: boolean}} | null>}
 */
export async function keptPage(address, hours, { late, form }) {
  const row = await within("pages", "readonly", (pages) => pages.get(address)).catch(() => undefined);
  if (!row || Date.now() - row.kept_at > hours * 3_600_000 || row.staff !== (await vault.whose())) return null;
  const page = await vault.unlock(row);
  if (!page) return null;
  const carriesOn = page.headers.some(([name]) => name.toLowerCase() === CARRIES_ON);
  const [formSent, factsSent] = await Promise.all([FORM_SENT, FACTS_SENT].map((name) => note(name, 0).catch(() => 0)));
  const before = { form: Math.max(form, formSent), facts: carriesOn ? 0 : factsSent };
  const sent = Math.max(...Object.values(before).filter((time) => row.kept_at < time));
  const told = [`kept;dur=${row.kept_at}`, late ? "late" : "", sent > 0 ? `sent;dur=${sent}` : ""];
  const headers = new Headers(page.headers);
  headers.set("Server-Timing", told.filter(Boolean).join(", "));
  return { response: new Response(page.body, { status: 200, headers }), isBefore: { form: row.kept_at < before.form, facts: row.kept_at < before.facts } };
}

/** When each page of these addresses was kept: address → milliseconds. */
export async function keptSince(addresses) {
  const staff = await vault.whose();
  const rows = await within("pages", "readonly", (pages) => addresses.map((address) => pages.get(address)));
  return new Map(rows.filter((row) => row && row.staff === staff).map((row) => [row.address, row.kept_at]));
}

/** Take it off the device. */
export const forgetPage = (address) => within("pages", "readwrite", (pages) => pages.delete(address)).catch(() => {});

/** Take away what is too old to be shown. */
export async function dropOld(hours) {
  const before = Date.now() - hours * 3_600_000;
  await within(["pages", "packs"], "readwrite", (pages, packs) => [pages, packs].map((store) => {
    const request = store.openCursor();
    request.onsuccess = () => {
      const cursor = request.result;
      if (!cursor) return;
      if (cursor.value.kept_at < before) cursor.delete();
      cursor.continue();
    };
    return undefined;
  }));
}
