// Pages: the server's answer where it comes within a moment, else the one that this device keeps. Whoever has just sent a form or
// what they recorded, or asks for the page again, is not answered with what stood there before: they wait for the server as long as
// it may still answer, at the bars a few seconds.

import { after } from "./after.js";
import { dropOld, keepPage, keptPage, mayBeKept, noteFormSent } from "../pages.js";

const PATIENCE = 600; // milliseconds; the server's own answer takes less than a tenth of it
const PATIENT = 20_000; // a server under load answers within it
const PATIENT_AT_THE_BARS = 4_000; // after what was recorded: a signal that is lost there is not waited for as long
const RELOADS = new Set(["no-cache", "reload"]); // how a browser asks for a page again

export function makePages({ hours, pages }, statics) {
  let sent = 0; // the note takes a moment to be written, the next page is asked for at once

  /** A form goes to the server: what is kept here was so before it. */
  function formGoes(event) {
    sent = Date.now();
    event.waitUntil(noteFormSent(sent).catch(() => {}));
  }

  async function answer(event) {
    const { request } = event;
    const { pathname, search } = new URL(request.url);
    const asked = Date.now();
    // The copy is made before anybody reads the answer; keeping it goes on after the page was answered.
    const network = fetch(request).then((response) => [response, !search && mayBeKept(response) ? response.clone() : null]);
    event.waitUntil(network.then(([, copy]) => copy && keepPage(pathname, copy, asked)).catch(() => {}));
    const fresh = network.then(([response]) => response);
    const kept = async (late) => (search ? null : keptPage(pathname, hours, { late, form: sent }).catch(() => null));
    const late = async () => {
      await after(PATIENCE);
      const page = await kept(true);
      if (page?.isBefore.form || RELOADS.has(request.cache)) await after(PATIENT - PATIENCE);
      else if (page?.isBefore.facts) await after(PATIENT_AT_THE_BARS - PATIENCE);
      return page?.response ?? fresh;
    };
    const instead = async () => (await kept(false))?.response;
    try {
      const first = await Promise.race([fresh, late()]);
      return first.status < 500 ? first : ((await instead()) ?? first);
    } catch {
      return (await instead()) ?? statics.page(pages.noSignal);
    }
  }

  return { answer, formGoes, tidy: () => dropOld(hours).catch(() => {}) };
}
