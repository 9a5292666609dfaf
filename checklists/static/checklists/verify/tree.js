// The tree of RFC 9162: is a leaf in it, and does one tree go on from another? Sizes may be beyond 32 bits, so that
// they are halved by division.

import { equal, joined, sha } from "./bytes.js";

const LEAF = Uint8Array.of(0);
const NODE = Uint8Array.of(1);

export const leafHash = (data) => sha(joined(LEAF, data));
export const node = (left, right) => sha(joined(NODE, left, right));

const half = (number) => Math.floor(number / 2);
const odd = (number) => number % 2 === 1;
const whole = (...numbers) => numbers.every((number) => Number.isSafeInteger(number));
const hashes = (...values) => values.every((value) => value.length === 32);

function powerOfTwo(number) {
  while (number > 1 && !odd(number)) number = half(number);
  return number === 1;
}

// RFC 9162 §2.1.3.2: whether the path leads from the leaf at this index to the root of the tree of this size.
export async function included(leaf, index, size, path, root) {
  if (!whole(index, size) || index < 0 || index >= size || !hashes(leaf, root, ...path)) return false;
  let [fn, sn, result] = [index, size - 1, leaf];
  for (const step of path) {
    if (sn === 0) return false;
    if (odd(fn) || fn === sn) {
      result = await node(step, result);
      while (!odd(fn) && fn) [fn, sn] = [half(fn), half(sn)];
    } else {
      result = await node(result, step);
    }
    [fn, sn] = [half(fn), half(sn)];
  }
  return sn === 0 && equal(result, root);
}

// RFC 9162 §2.1.4.2: whether the first tree is the beginning of the second.
export async function continued(first, second, path, old, now) {
  if (!whole(first, second) || first <= 0 || first > second || !hashes(old, now, ...path)) return false;
  if (first === second) return path.length === 0 && equal(old, now);
  const steps = powerOfTwo(first) ? [old, ...path] : [...path];
  if (steps.length === 0) return false;
  let [fn, sn] = [first - 1, second - 1];
  while (odd(fn)) [fn, sn] = [half(fn), half(sn)];
  let [left, right] = [steps[0], steps[0]];
  for (const step of steps.slice(1)) {
    if (sn === 0) return false;
    if (odd(fn) || fn === sn) {
      [left, right] = [await node(step, left), await node(step, right)];
      while (!odd(fn) && fn) [fn, sn] = [half(fn), half(sn)];
    } else {
      right = await node(right, step);
    }
    [fn, sn] = [half(fn), half(sn)];
  }
  return sn === 0 && equal(left, old) && equal(right, now);
}
