// A tone or a vibration when what is chosen would break a critical rule: for eyes that are on the person and not on the screen.
// Off until somebody asks for it (settings.js). The tone is made here: two notes, falling, half a second. No vibration where the
// device asks for less motion.

import * as view from "./view.js";

const NOTES = [[880, 0], [587, 0.22]]; // hertz, seconds after the beginning
const LENGTH = 0.2;
const BUZZ = [120, 80, 240];

export function makeAlarm(settings) {
  let sound = null;

  // A browser lets a page sound only after a tap on it; the context made then is used from there on.
  function ready() {
    sound ??= new AudioContext();
    if (sound.state === "suspended") sound.resume();
    return sound;
  }

  function tone() {
    const context = ready();
    for (const [pitch, after] of NOTES) {
      const at = context.currentTime + after;
      const note = new OscillatorNode(context, { type: "triangle", frequency: pitch });
      const volume = new GainNode(context, { gain: 0 });
      volume.gain.setValueAtTime(0, at);
      volume.gain.linearRampToValueAtTime(0.5, at + 0.02);
      volume.gain.linearRampToValueAtTime(0, at + LENGTH);
      note.connect(volume).connect(context.destination);
      note.start(at);
      note.stop(at + LENGTH);
    }
  }

  function buzz() {
    if (!matchMedia("(prefers-reduced-motion: reduce)").matches) navigator.vibrate?.(BUZZ);
  }

  const kinds = { sound: tone, buzz };
  const ring = () => Object.entries(kinds).forEach(([name, make]) => settings.get()[name] && make());
  return { ring, sample: (name) => kinds[name]?.() };
}

export const isCritical = (given) => given.kind === "against" && given.breaks.some((broken) => broken.severity === "critical");

// Rings once when the advice comes to be critical, and again only after it was not.
export function alarms({ store, alarm }) {
  let critical = false;
  store.on((state) => {
    const given = view.advice(state);
    if (given.kind === "asking") return;
    const now = isCritical(given);
    if (now && !critical) alarm.ring();
    critical = now;
  });
}
