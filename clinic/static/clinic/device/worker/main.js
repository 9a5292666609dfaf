// The worker: what the browser asks when a page wants something from the server (clinic/web/worker.py starts it).
//
//   static files    from the cache of this version, then of an older one, then from the server
//   pages           from the server; where it does not answer within a moment, as this device keeps them (../pages.js); after a
//                   form that somebody sent, only where the server does not answer at all
//   signing out     the device's key goes first, server or not; the server is told before anything else (leaving.js)
//
// Everything else goes to the server as if there were no worker. It reads and writes no row of `kept`: what was recorded is
// the page's to send, whatever version of this file is at work.

import { makeLeaving } from "./leaving.js";
import { makePages } from "./navigations.js";
import { makeStatics } from "./statics.js";

/**
 * @param {{version: string, statics: string, files: string[], pages: {noSignal: string, left: string},
 *   doors: {signOut: string, handOver: string}, hours: number}} settings
 */
export function work(settings) {
  const statics = makeStatics(settings);
  const leaving = makeLeaving(settings, statics);
  const pages = makePages(settings, statics);

  addEventListener("install", (event) => statics.shortCut(event));
  addEventListener("install", (event) => event.waitUntil(statics.gather().then(() => self.skipWaiting())));
  addEventListener("activate", (event) => event.waitUntil(Promise.all([statics.tidy(), pages.tidy(), self.clients.claim()])));
  addEventListener("fetch", (event) => {
    const { request } = event;
    const { origin, pathname } = new URL(request.url);
    if (origin !== location.origin) return;
    const reads = request.method === "GET";
    if (!reads && request.mode === "navigate") pages.formGoes(event);
    if (reads && pathname.startsWith(settings.statics)) event.respondWith(statics.answer(request));
    else if (pathname === settings.doors.signOut && request.method === "POST") event.respondWith(leaving.signOut(request));
    else if (pathname === settings.doors.handOver && request.method === "POST") event.respondWith(leaving.handOver(request));
    else if (reads && request.mode === "navigate") event.respondWith(leaving.first(() => pages.answer(event), request));
    else if (leaving.isPossible()) event.respondWith(leaving.first(() => fetch(request), request));
  });
}
