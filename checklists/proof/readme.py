"""README.txt of a bundle: what it shows, what it does not, and how to have it checked."""

from __future__ import annotations

_TEXT = """\
PROOF BUNDLE: {what} {reference}

What lies here
  page.html          the entries, to read and to print (no script in it)
  bundle.json        the same for a machine: each entry with its salt, the exact bytes of its row, its place in the
                     sealed ledger and the path that proves it; statement and evidence of each sign-off
  checkpoint.note    the state of the whole ledger, signed (missing where nothing was sealed yet)
  ring.json          the public keys that sign, and how each was introduced by the one before it
  protocols/         the protocol under which a sign-off was signed, exactly as it was
  verify.py          checks all of this, off line{stamp}

How to check it
  1. On a computer with Python 3.9 or newer and its library 'cryptography', off line if you like:
         python3 verify.py
     It says line by line what holds and what does not, and ends with one sentence.
  2. Or open the clinic's page for checking (its address ends in /verify/) and choose the zip file. The file stays on
     your computer: the page sends nothing anywhere.
  3. So far you rely on keys that lie in this same bundle. Somebody who makes up a whole bundle can make up keys as
     well. So compare with something that came to you by another way, one of the two or both:
         python3 verify.py --key FINGERPRINT       the fingerprint of a key, from the clinic on paper or by telephone
         python3 verify.py --checkpoint FILE       a checkpoint from a witness (an address elsewhere that keeps the
                                                   clinic's checkpoints), or from the records officer's e-mail
     A checkpoint from a witness is the stronger of the two: it also finds a clinic that keeps two records.
  4. If you do not trust the verify.py that came with the bundle, use one that you got elsewhere, or write your own: the
     formats are open (RFC 9162, RFC 8032, C2SP signed-note and tlog-checkpoint), and verify.py is short.

What it shows, when it holds
  - Each entry is today, byte for byte, what was sealed; it was not changed since, and not put in or moved afterwards.
  - It was sealed no later than the earliest checkpoint enclosed that has it, by the clock of the server; for signatures
    verify.py says which time that is.
  - What a signer put their name to: the statement, the evidence shown, and the protocol, none of it changed since.
  - Where content was erased, as the law may demand: that there was an entry, when and by whose account, stays shown;
    what it said is gone, and nothing here can bring it back.

What it does not show
  - That what was recorded is true. It shows that this was recorded, then, by whoever was signed in.
  - That nothing was left out of this bundle: other entries of the same person may exist.
  - Who somebody is. Accounts are named by the clinic's references; the statement of a sign-off has the signer's name.
  - Anything about what says 'not sealed yet': ask for a new bundle a minute later.
  - Whether a rule or law about electronic records is met: that is a legal question.
  Thresholds in a protocol are the clinic's own; local policy and the judgement of licensed staff come first.
"""
_STAMP = """
  stamp.tsr          a time stamp by an outside authority (RFC 3161) on stamped.note, a checkpoint that covers all of
                     this. With the authority's root certificate, which you get from it:
                         openssl ts -verify -data stamped.note -in stamp.tsr -CAfile roots.pem"""


def readme(kind: str, reference: str, *, stamped: bool) -> str:
    """The text for a bundle about one sign-off or one episode."""
    what = "one sign-off of episode" if kind == "sign_off" else "the record of episode"
    return _TEXT.format(what=what, reference=reference, stamp=_STAMP if stamped else "")
