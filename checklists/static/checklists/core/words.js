// Words for people: supports, help, dates and numbers as they stand in sentences.

const SAID = new Map([
  ["bars_both", "with both hands on the bars"],
  ["bars_one", "with one hand on the bars"],
  ["contralateral_rail", "on the contralateral rail"],
  ["ipsilateral_rail", "on the ipsilateral rail"],
  ["both_rails", "on both rails"],
  ["one_rail", "on one rail"],
  ["stick", "with a stick"],
  ["none", "without support"],
  ["hands_on", "with hands on"],
  ["stand_by", "with somebody standing by"],
  ["watching", "with somebody watching"],
  ["alone", "alone"],
]);
const NUMBERS = ["no", "one", "two", "three", "four", "five", "six"];

// A support or a help as part of a sentence; a word of the clinic's own stands as it is.
export const said = (word) => SAID.get(word) ?? word.replaceAll("_", " ");

// A small number in letters.
export const number = (value) => (value < NUMBERS.length ? NUMBERS.at(value) : String(value));

// 'one more day', 'two more days'.
export const days = (value) => `${number(value)} more day${value === 1 ? "" : "s"}`;

export const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

// The date of an instant, as written, the month by name: 3 Mar 2026.
export const dayOf = (at) => `${Number(at.slice(8, 10))} ${MONTHS[Number(at.slice(5, 7)) - 1]} ${at.slice(0, 4)}`;

// An instant in microseconds as a text in UTC; the last instant of the calendar where it lies beyond.
export function utc(value) {
  const moment = new Date(Math.floor(value / 1_000_000) * 1000);
  const year = moment.getUTCFullYear();
  if (!(year >= 1 && year <= 9999)) return "9999-12-31T23:59:59Z";
  const fraction = value - moment.getTime() * 1000;
  return `${moment.toISOString().slice(0, 19)}${fraction ? `.${String(fraction).padStart(6, "0")}` : ""}Z`;
}

// 'a, b and c'.
export const listed = (words) => (words.length > 1 ? `${words.slice(0, -1).join(", ")} and ${words.at(-1)}` : words.join(""));
