// Watches the Floor's page from inside, or stands in for the device under it (tests/browser/test_floor_hand.py).
globalThis.watch ??= {
  typed: [], heard: [], drawn: 0, locks: 0, released: 0, tones: 0, buzzes: 0, lock: null,

  // Whatever a keyboard does, and the focus in a field that would call the system's keyboard up.
  typing() {
    for (const kind of ["keydown", "beforeinput"]) {
      addEventListener(kind, (event) => watch.typed.push(`${kind} ${event.key ?? event.data}`), true);
    }
    addEventListener("focusin", ({ target }) => {
      const field = target.matches("textarea, [contenteditable], input:not([type=radio], [type=checkbox], [type=range])");
      if (field && target.inputMode !== "none") watch.typed.push(`focus on ${target.outerHTML}`);
    }, true);
  },

  // How often anything is drawn, besides the reading of a number and the clock.
  drawing() {
    const seen = new MutationObserver((all) => {
      watch.drawn += all.filter(({ target }) => !target.closest?.(".read")).length;
    });
    for (const part of document.querySelectorAll("[data-floor]:not([data-floor=clockFace])")) {
      seen.observe(part, { childList: true, subtree: true, attributes: true });
    }
  },

  // A lock of the screen, a motor and a loudspeaker that count what is asked of them.
  device() {
    const lock = () => Object.assign(new EventTarget(), {
      async release() {
        watch.released += 1;
        this.dispatchEvent(new Event("release"));
      },
    });
    const request = async () => {
      watch.locks += 1;
      watch.lock = lock();
      return watch.lock;
    };
    Object.defineProperty(navigator, "wakeLock", { value: { request } });
    Object.defineProperty(navigator, "vibrate", { value: () => { watch.buzzes += 1; return true; } });
    const { start } = OscillatorNode.prototype;
    OscillatorNode.prototype.start = function counted(...at) {
      watch.tones += 1;
      return start.apply(this, at);
    };
  },

  // What is put into a live region: a screen reader reads it out each time.
  speech() {
    const LIVE = "[role=status], [role=alert]";
    const region = (node) => node.closest?.(LIVE) ?? node.querySelector?.(LIVE);
    const element = (node) => (node.nodeType === Node.ELEMENT_NODE ? node : node.parentElement);
    new MutationObserver((changes) => {
      for (const { type, target, addedNodes } of changes) {
        for (const node of (type === "characterData" ? [target] : [...addedNodes]).map(element)) {
          if (node && region(node)) watch.heard.push(region(node).textContent);
        }
      }
    }).observe(document.body, { childList: true, subtree: true, characterData: true });
  },
};
