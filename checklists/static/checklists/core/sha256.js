// SHA-256 (FIPS 180-4), at once and without a promise: the browser's own is asynchronous, and a digest is asked for in the middle
// of a synchronous step. For what is public; keys and passwords are not this module's business.

const PRIMES = firstPrimes(64);
const ROOTS = PRIMES.map((prime) => fractionOf(Math.cbrt(prime)));
const START = PRIMES.slice(0, 8).map((prime) => fractionOf(Math.sqrt(prime)));

// The first 32 bits of the fractional part.
function fractionOf(root) {
  return ((root - Math.floor(root)) * 2 ** 32) >>> 0;
}

function firstPrimes(count) {
  const found = [];
  for (let n = 2; found.length < count; n += 1) if (found.every((prime) => n % prime)) found.push(n);
  return found;
}

const turned = (word, by) => (word >>> by) | (word << (32 - by));

/**
 * The digest in hexadecimal.
 * @param {Uint8Array} bytes
 * @returns {string}
 */
export function sha256(bytes) {
  const padded = new Uint8Array(((bytes.length + 72) >> 6) << 6);
  padded.set(bytes);
  padded[bytes.length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(padded.length - 8, Math.floor(bytes.length / 2 ** 29));
  view.setUint32(padded.length - 4, (bytes.length << 3) >>> 0);
  const state = Uint32Array.from(START);
  for (let at = 0; at < padded.length; at += 64) mix(state, schedule(view, at));
  return [...state].map((word) => word.toString(16).padStart(8, "0")).join("");
}

function schedule(view, at) {
  const words = new Uint32Array(64);
  for (let i = 0; i < 16; i += 1) words[i] = view.getUint32(at + 4 * i);
  for (let i = 16; i < 64; i += 1) {
    const [early, late] = [words[i - 15], words[i - 2]];
    const low = turned(early, 7) ^ turned(early, 18) ^ (early >>> 3);
    const high = turned(late, 17) ^ turned(late, 19) ^ (late >>> 10);
    words[i] = words[i - 16] + low + words[i - 7] + high;
  }
  return words;
}

function mix(state, words) {
  let [a, b, c, d, e, f, g, h] = state;
  for (let i = 0; i < 64; i += 1) {
    const first = (h + (turned(e, 6) ^ turned(e, 11) ^ turned(e, 25)) + ((e & f) ^ (~e & g)) + ROOTS[i] + words[i]) | 0;
    const second = ((turned(a, 2) ^ turned(a, 13) ^ turned(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + first) | 0, c, b, a, (first + second) | 0];
  }
  [a, b, c, d, e, f, g, h].forEach((word, i) => { state[i] += word; });
}
