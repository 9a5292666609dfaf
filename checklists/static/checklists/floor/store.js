// One object that holds what the page knows; whoever draws is told when it changes.

export function makeStore(state) {
  const listeners = [];
  let held = 0;
  let changed = false;

  function tell() {
    if (held) {
      changed = true;
      return;
    }
    for (const listener of listeners) listener(state);
  }

  return {
    get: () => state,
    set(patch) {
      state = { ...state, ...patch };
      tell();
    },
    on(listener) {
      listeners.push(listener);
      listener(state);
    },
    // What one act changes is drawn once: nobody is told in the middle of it.
    together(act) {
      held += 1;
      try {
        return act();
      } finally {
        held -= 1;
        if (!held && changed) {
          changed = false;
          tell();
        }
      }
    },
  };
}

export const NOTHING_CHOSEN = Object.freeze({
  skill: null, support: null, help: null, deviations: [], measures: {}, despite: "",
});
