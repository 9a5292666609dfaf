// The core that knows the state and gives advice. Now it is the server's; one that works on this tablet without signal can take
// its place by offering the same two functions.

import { learn } from "./clock.js";
import { call } from "./sender.js";

export function serverCore(addresses) {
  return {
    // The state of the record: statuses, knees, what is next, what to check first, the facts of today.
    async state() {
      const sent = Date.now();
      const { kind, answer, sentence } = await call(addresses.state);
      if (kind === "ok") learn(answer.now, sent, Date.now());
      return { kind, state: answer, sentence };
    },

    // Advice for every rung and every help of one skill, were it tried now: {rung: {help: {allowed, breaks: [...]}}}.
    // `pending` are facts that the record does not have yet.
    async advise(skill, pending) {
      const { kind, answer } = await call(addresses.advice, { skill, pending });
      return kind === "ok" ? answer.advice : null;
    },
  };
}
