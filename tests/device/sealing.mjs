// Seals for the tests: a request a line on standard input, an answer a line. Bytes travel as hexadecimal text.
import { createInterface } from "node:readline";
import { seal } from "../../clinic/static/clinic/device/hpke.js";

const bytes = (hex) => Uint8Array.from(Buffer.from(hex, "hex"));
const hex = (found) => Buffer.from(found).toString("hex");
const url = (found) => Buffer.from(found).toString("base64url");
const CURVE = { name: "ECDH", namedCurve: "P-256" };

// The key pair of a published vector: a private number and its point.
async function pair({ number, point }) {
  const jwk = { kty: "EC", crv: "P-256", d: url(bytes(number)), x: url(bytes(point).slice(1, 33)), y: url(bytes(point).slice(33)) };
  return {
    privateKey: await crypto.subtle.importKey("jwk", jwk, CURVE, false, ["deriveBits"]),
    publicKey: await crypto.subtle.importKey("raw", bytes(point), CURVE, true, []),
  };
}

for await (const line of createInterface({ input: process.stdin })) {
  const { point, plain, info, aad, ephemeral } = JSON.parse(line);
  const more = { info: bytes(info), aad: bytes(aad), ephemeral: ephemeral ? await pair(ephemeral) : null };
  const { enc, box } = await seal(bytes(point), bytes(plain), more);
  process.stdout.write(`${JSON.stringify({ enc: hex(enc), box: hex(box) })}\n`);
}
