// The server's word where this device has no copy of the record to ask (copy.js): state and advice.

import { learn } from "./clock.js";
import { call } from "./sender.js";

export { localCore } from "./local.js";

export function serverCore(addresses) {
  return {
    // The state of the record: statuses, knees, what is next, what to check first, the facts of today.
    async state() {
      const sent = Date.now();
      const { kind, answer, sentence } = await call(addresses.state);
      if (kind === "ok") learn(answer.now, sent, Date.now());
      return { kind, state: answer, sentence };
    },

    // Advice for every rung and every help of one skill, were it tried now: {rung: {help: {allowed, breaks: [...], counted}}}.
    // `pending` are facts that the record does not have yet.
    async advise(skill, pending) {
      const { kind, answer } = await call(addresses.advice, { skill, pending });
      return kind === "ok" ? answer.advice : null;
    },
  };
}
