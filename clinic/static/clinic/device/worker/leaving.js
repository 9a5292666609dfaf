// Signing out on this device: the key goes first, and with it everything that it opens, whether the server is in reach or not.
// Where it is not, it is told as soon as it is: until then nothing else goes to it from here.

import { note, putNote } from "../database.js";
import { noteLeft } from "../pages.js";
import * as vault from "../vault.js";

const NOTE = "leaving"; // the form that was sent, until the server has it

export function makeLeaving({ doors, pages }, statics) {
  let waiting = null; // a promise of that form, or of null
  let none = false; // whether it is known that there is none
  let telling = null;

  function form() {
    waiting ??= note(NOTE, null).then((found) => {
      none = !found;
      return found;
    });
    return waiting;
  }

  async function remember(body) {
    waiting = Promise.resolve(body);
    none = !body;
    await putNote(NOTE, body);
  }

  async function forgotten() {
    await noteLeft().catch(() => {});
    await vault.destroy();
  }

  async function signOut(request) {
    const body = await request.clone().text();
    await forgotten();
    await remember(body).catch(() => {});
    try {
      const response = await fetch(request);
      if (response.status >= 500) throw new Error("the server is not there");
      await remember(null).catch(() => {});
      return response;
    } catch {
      return statics.page(pages.left);
    }
  }

  // A colleague comes in: the server lets them, and then nothing of the one before is readable here.
  async function handOver(request) {
    const response = await fetch(request);
    if (response.status < 400) await forgotten();
    return response;
  }

  // Tell the server of a sign-out that it has not heard of; whether it knows now.
  async function tell(body) {
    const headers = { "Content-Type": "application/x-www-form-urlencoded" };
    try {
      const response = await fetch(doors.signOut, { method: "POST", headers, body, redirect: "manual" });
      if (response.status >= 500) return false;
    } catch {
      return false;
    }
    await remember(null).catch(() => {});
    return true;
  }

  async function told() {
    const body = await form().catch(() => null);
    if (!body) return true;
    telling ??= tell(body).finally(() => { telling = null; });
    return telling;
  }

  return {
    signOut,
    handOver,
    isPossible: () => !none,
    async first(next, request) {
      if (await told()) return next();
      return request.mode === "navigate" ? statics.page(pages.left) : Response.error();
    },
  };
}
