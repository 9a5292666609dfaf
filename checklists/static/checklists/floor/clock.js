// Time as the record writes it: the server's clock, the site's offset, numbered where two facts share an instant.

import { heard } from "../../clinic/device/call.js";
import { note, putNote } from "../../clinic/device/database.js";
import { language } from "../../clinic/js/gettext.js";
import { partsIn } from "./zone.js";

export { dayBegan, written } from "./zone.js";

const NOTE = "clock"; // { error }: what was learned last, for a page that opens without a network
const ROUGH = 2000; // milliseconds of doubt: an answer this slow teaches nothing that is not known better
const WORTH_SAYING = 30_000; // milliseconds

let error = 0; // milliseconds that this device runs ahead of the server
let measured = false;
let last = { at: 0, seq: -1 };
const told = [];

function settle(found) {
  error = found;
  measured = true;
  for (const listener of told) listener(error);
}

// Learn the device's error from one answer: `sent` and `got` are the device's own times around it.
export function learn(serverNow, sent, got) {
  const best = (sent + got) / 2 - Date.parse(serverNow);
  const slack = (got - sent) / 2;
  const before = measured ? error : null;
  if (slack > ROUGH && measured && Math.abs(best - error) <= slack) return;
  settle(Math.abs(best) <= Math.max(slack, 1000) ? 0 : Math.round(best)); // below the noise: believe the device
  if (before === null || Math.abs(before - error) > 1000) putNote(NOTE, { error }).catch(() => {}); // a help, no fact
}

heard(learn);

/** What an earlier page had learned: good until an answer says otherwise. */
export async function recall() {
  const kept = await note(NOTE).catch(() => null);
  if (kept && !measured) settle(kept.error);
}

/** `listener(error)` now and whenever the device's error is learned anew, in milliseconds; 0 where there is none to speak of. */
export function onLearned(listener) {
  const say = () => listener(Math.abs(error) < WORTH_SAYING ? 0 : error);
  told.push(say);
  say();
}

export const now = () => new Date(Date.now() - error);
export const offsetSeconds = () => (measured ? error / 1000 : null);

export function clockTime(instant, zone) {
  const p = partsIn(zone, new Date(instant));
  return `${p.hour}:${p.minute}`;
}

export function dayAndTime(instant, zone) {
  const date = new Date(instant);
  const day = new Intl.DateTimeFormat(language(), { timeZone: zone, day: "numeric", month: "short" }).format(date);
  return `${day}, ${clockTime(instant, zone)}`;
}

export const sameDay = (a, b, zone) => {
  const [x, y] = [partsIn(zone, new Date(a)), partsIn(zone, new Date(b))];
  return x.year === y.year && x.month === y.month && x.day === y.day;
};

// The instant and the next number for facts of one act: never before the act before it, and numbered after it where they tie.
export function nextInstant() {
  const at = Math.max(now().getTime(), last.at);
  const seq = at === last.at ? last.seq + 1 : 0;
  return { at, seq };
}

export function took({ at, seq }) {
  last = { at, seq };
}
