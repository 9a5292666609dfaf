// One object that holds what the page knows; whoever draws is told when it changes.

export function makeStore(state) {
  const listeners = [];
  return {
    get: () => state,
    set(patch) {
      state = { ...state, ...patch };
      for (const listener of listeners) listener(state);
    },
    on(listener) {
      listeners.push(listener);
      listener(state);
    },
  };
}

export const NOTHING_CHOSEN = Object.freeze({
  skill: null, support: null, help: null, deviations: [], measures: {}, despite: "",
});
