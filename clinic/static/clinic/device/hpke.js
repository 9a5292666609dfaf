// Hybrid public key encryption, RFC 9180: base mode, one message, for sealing only. The suite is the one of the RFC's
// appendix A.3: DHKEM(P-256, HKDF-SHA256), HKDF-SHA256, AES-128-GCM. Opening is the server's (clinic/ledger/sealing.py).

const CURVE = { name: "ECDH", namedCurve: "P-256" };
const NO_BYTES = new Uint8Array();
const LONGEST = 32; // bytes of one HMAC-SHA-256: more than this suite ever asks to be expanded

const bytes = (text) => new TextEncoder().encode(text);

export function joined(...parts) {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  parts.reduce((place, part) => {
    whole.set(part, place);
    return place + part.length;
  }, 0);
  return whole;
}

const KEM = joined(bytes("KEM"), Uint8Array.of(0, 0x10)); // §4.1: suite_id of DHKEM(P-256, HKDF-SHA256)
const SUITE = joined(bytes("HPKE"), Uint8Array.of(0, 0x10, 0, 1, 0, 1)); // §5.1: kem_id, kdf_id, aead_id
const VERSION = bytes("HPKE-v1");

async function hmac(key, data) {
  // RFC 5869 lets an absent salt stand for as many zeros as the hash is long; an empty key cannot be imported.
  const raw = key.length ? key : new Uint8Array(32);
  const imported = await crypto.subtle.importKey("raw", raw, { name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
  return new Uint8Array(await crypto.subtle.sign("HMAC", imported, data));
}

const extract = (salt, suite, label, ikm) => hmac(salt, joined(VERSION, suite, bytes(label), ikm));

async function expand(prk, suite, label, info, length) {
  if (length > LONGEST) throw new RangeError("one block of HKDF is all that is asked for here");
  const labelled = joined(Uint8Array.of(0, length), VERSION, suite, bytes(label), info, Uint8Array.of(1));
  return (await hmac(prk, labelled)).slice(0, length);
}

// §4.1, Encap: a key pair for this one message, and the secret that it shares with the receiver.
async function encapsulated(point, ephemeral) {
  const receiver = await crypto.subtle.importKey("raw", point, CURVE, false, []);
  const pair = ephemeral ?? (await crypto.subtle.generateKey(CURVE, true, ["deriveBits"]));
  const dh = new Uint8Array(await crypto.subtle.deriveBits({ name: "ECDH", public: receiver }, pair.privateKey, 256));
  const enc = new Uint8Array(await crypto.subtle.exportKey("raw", pair.publicKey));
  const prk = await extract(NO_BYTES, KEM, "eae_prk", dh);
  return { enc, shared: await expand(prk, KEM, "shared_secret", joined(enc, point), 32) };
}

// §5.1, KeySchedule in base mode: no pre-shared key.
async function schedule(shared, info) {
  const context = joined(
    Uint8Array.of(0),
    await extract(NO_BYTES, SUITE, "psk_id_hash", NO_BYTES),
    await extract(NO_BYTES, SUITE, "info_hash", info),
  );
  const secret = await extract(shared, SUITE, "secret", NO_BYTES);
  return { key: await expand(secret, SUITE, "key", context, 16), nonce: await expand(secret, SUITE, "base_nonce", context, 12) };
}

/**
 * Seal `plain` (bytes) for whoever holds the private half of `point` (an uncompressed point, 65 bytes); `info` and `aad` (bytes)
 * must be known to them. Answers `{enc, box}`, 65 bytes and the ciphertext with its tag. `ephemeral` is for the RFC's vectors:
 * nobody else may choose that key pair.
 */
export async function seal(point, plain, { info = NO_BYTES, aad = NO_BYTES, ephemeral = null } = {}) {
  const { enc, shared } = await encapsulated(point, ephemeral);
  const { key, nonce } = await schedule(shared, info);
  const cipher = await crypto.subtle.importKey("raw", key, "AES-GCM", false, ["encrypt"]);
  const box = await crypto.subtle.encrypt({ name: "AES-GCM", iv: nonce, additionalData: aad }, cipher, plain);
  return { enc, box: new Uint8Array(box) };
}
