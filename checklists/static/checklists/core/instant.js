// Instants, dates and durations as texts, read without a clock or a time zone database.
//
// An instant becomes whole microseconds since 1970-01-01T00:00:00Z; the date in it, as written, becomes a day number
// (1 is 0001-01-01). As doubles they are exact to the microsecond until the year 2255, and for whole seconds always.

import { ValueError } from "./errors.js";
import { isAscii } from "./texts.js";

export const SECOND = 1_000_000;
export const DAY = 86_400 * SECOND;
export const EPOCH_DAY = 719_163;
const DATE = /^([0-9]{4})-([0-9]{2})-([0-9]{2})$/;
const CLOCK = /^T([0-9]{2}):([0-9]{2}):([0-9]{2})$/;
const TAIL = /^(?:\.([0-9]{1,6}))?(?:Z|([+-])([0-9]{2}):([0-9]{2}))$/;
const DURATION = /^P(?:([0-9]+)W|(?:([0-9]+)D)?(T(?:([0-9]+)H)?(?:([0-9]+)M)?(?:([0-9]+)S)?)?)$/;
const LENGTHS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
const MOST_DIGITS = 4_300;
const KEPT = 20_000; // dates remembered; a record that has more of them is only read a little slower
const days = new Map();

/**
 * Microseconds, and day number as written, of an RFC 3339 instant (SEMANTICS.md §1); ValueError says why not.
 * @param {string} text
 * @returns {[number, number]}
 */
export function read(text) {
  const [date, time, rest] = parts(text);
  const clock = CLOCK.exec(time);
  const tail = TAIL.exec(rest);
  if (!clock || !tail) throw new ValueError("is not an instant like 2026-03-02T10:15:00+01:00");
  const day = days.get(date) ?? remembered(date);
  const [hour, minute, second] = [Number(clock[1]), Number(clock[2]), Number(clock[3])];
  if (hour > 23 || minute > 59 || second > 59) throw new ValueError("is not a time of the day");
  const [, fraction = "", sign, hours, minutes] = tail;
  if (hours && (Number(hours) > 23 || Number(minutes) > 59)) throw new ValueError("has an offset that no clock shows");
  const ahead = hours ? Number(hours) * 60 + Number(minutes) : 0;
  const seconds = (hour * 60 + minute) * 60 + second + (sign === "-" ? ahead : -ahead) * 60;
  // whole seconds first: their microseconds are exact in a double through all four-digit years
  return [((day - EPOCH_DAY) * 86_400 + seconds) * SECOND + Number(fraction.padEnd(6, "0")), day];
}

function parts(text) {
  if (isAscii(text)) return [text.slice(0, 10), text.slice(10, 19), text.slice(19)];
  const all = [...text]; // so that the same part is at fault whatever characters stand before it
  return [all.slice(0, 10).join(""), all.slice(10, 19).join(""), all.slice(19).join("")];
}

function remembered(date) {
  const day = readDay(date);
  if (days.size >= KEPT) days.clear();
  days.set(date, day);
  return day;
}

/**
 * The day number of a date `YYYY-MM-DD`; ValueError says why not.
 * @param {string} text
 * @returns {number}
 */
export function readDay(text) {
  const found = DATE.exec(text);
  if (!found) throw new ValueError("is not a date like 2026-03-02");
  const [year, month, day] = [Number(found[1]), Number(found[2]), Number(found[3])];
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  const length = (LENGTHS[month - 1] ?? 0) + (leap && month === 2 ? 1 : 0);
  if (day < 1 || day > length) throw new ValueError("is not a day of the calendar");
  const moment = new Date(0);
  moment.setUTCFullYear(year, month - 1, day); // Date.UTC would take the years 0 to 99 for others
  return moment.getTime() / 86_400_000 + EPOCH_DAY;
}

/**
 * The microseconds of an ISO 8601 duration of whole weeks, or whole days, hours, minutes and seconds.
 * @param {string} text
 * @returns {number}
 */
export function readDuration(text) {
  const found = DURATION.exec(text);
  if (!found || text === "P" || found[3] === "T") throw new ValueError("is not a duration like P28D or PT30M");
  const [weeks, whole, hours, minutes, seconds] = [1, 2, 4, 5, 6].map((group) => wholeNumber(found[group] ?? "0"));
  return ((weeks * 7 + whole) * 86_400 + hours * 3_600 + minutes * 60 + seconds) * SECOND;
}

function wholeNumber(digits) {
  checkDigits(digits);
  return Number(digits);
}

// A number that nobody could have meant, whose reading alone takes long; the server's reader stops there too.
export function checkDigits(digits) {
  if (digits.length <= MOST_DIGITS) return;
  throw new ValueError(
    `Exceeds the limit (${MOST_DIGITS} digits) for integer string conversion: value has ${digits.length} digits; ` +
    "use sys.set_int_max_str_digits() to increase the limit",
  );
}

/**
 * Microseconds, day number as written, and text of a moment given as a Date or as a text.
 * @param {Date | string} moment
 * @returns {[number, number, string]}
 */
export function of(moment) {
  if (typeof moment === "string") return [...read(moment), moment];
  const text = moment.toISOString().replace(".000Z", "Z");
  return [...read(text), text];
}

// The Date of a number of microseconds (to the millisecond).
export const atMicroseconds = (value) => new Date(Math.floor(value / 1000));
