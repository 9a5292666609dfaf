// Instants as a site's clocks show them. Nothing here asks what time it is.

const forms = new Map(); // zone → how its clocks are written: dear to make, and asked for with every fact that is drawn

function formOf(zone) {
  if (!forms.has(zone)) {
    forms.set(zone, new Intl.DateTimeFormat("en-GB", {
      timeZone: zone, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit",
      hour: "2-digit", minute: "2-digit", second: "2-digit",
    }));
  }
  return forms.get(zone);
}

export function partsIn(zone, date) {
  return Object.fromEntries(formOf(zone).formatToParts(date).map((part) => [part.type, part.value]));
}

// Minutes by which the clocks of `zone` are ahead of UTC at an instant, given with its parts there.
function minutesAhead(date, p) {
  const asUtc = Date.UTC(p.year, p.month - 1, p.day, p.hour, p.minute, p.second);
  return Math.round((asUtc - Math.floor(date.getTime() / 1000) * 1000) / 60000);
}

// RFC 3339 with the site's offset and milliseconds: 2026-11-25T10:46:03.120+00:00
export function written(date, zone) {
  const p = partsIn(zone, date);
  const minutes = minutesAhead(date, p);
  const sign = minutes < 0 ? "-" : "+";
  const two = (number) => String(Math.floor(number)).padStart(2, "0");
  const offset = `${sign}${two(Math.abs(minutes) / 60)}:${two(Math.abs(minutes) % 60)}`;
  const thousandths = String(date.getUTCMilliseconds()).padStart(3, "0");
  return `${p.year}-${p.month}-${p.day}T${p.hour}:${p.minute}:${p.second}.${thousandths}${offset}`;
}

const HALF_A_DAY = 12 * 3_600_000;

// The instant at which the day of `date` began in `zone`: the first midnight where clocks were put back over it, and where they
// were put forward over it the one that they would have shown (clinic/clock.py, day_starts).
export function dayBegan(date, zone) {
  const p = partsIn(zone, date);
  const midnight = Date.UTC(p.year, p.month - 1, p.day);
  const ahead = (instant) => minutesAhead(new Date(instant), partsIn(zone, new Date(instant))) * 60_000;
  const [before, after] = [midnight - HALF_A_DAY, midnight + HALF_A_DAY].map((guess) => guess - ahead(guess)).map(ahead);
  const [first, other] = [midnight - before, midnight - after];
  return new Date(ahead(first) === before || ahead(other) !== after ? first : other);
}
