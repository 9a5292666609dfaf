"""Published vectors of what the ledger's bytes and signatures stand on: RFC 8785 and RFC 8032."""

from __future__ import annotations

import json
import struct
from collections.abc import Callable
from typing import Any

import jcs
import pytest
import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

Dumps = Callable[[Any], bytes]
both = pytest.mark.parametrize("dumps", [rfc8785.dumps, jcs.canonicalize], ids=["rfc8785", "jcs"])

APPENDIX_B = {  # RFC 8785 Appendix B, table 1: an IEEE 754 double and how it is written
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}
DOCUMENTS = {
    # README of cyberphone/json-canonicalization
    '{"numbers":[1E30,4.50,6,2e-3,1e-27],"other":[null,true,false]}': (
        '{"numbers":[1e+30,4.5,6,0.002,1e-27],"other":[null,true,false]}'
    ),
    # RFC 8785 §3.2.2
    r"""{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
         "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}""": (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        r'"string":"€$\u000f\nA' + r"""'B\"\\\\\"/"}"""
    ),
    # RFC 8785 §3.2.3: sorted by UTF-16 code unit, so the smiling face stands before U+FB33
    r"""{"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
         "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control",
         "\u00f6": "Latin Small Letter O With Diaeresis"}""": (
        r'{"\r":"Carriage Return","1":"One",' + '"\u0080":"Control","ö":"Latin Small Letter O With Diaeresis",'
        '"€":"Euro Sign","😀":"Emoji: Grinning Face","\ufb33":"Hebrew Letter Dalet With Dagesh"}'
    ),
}


@both
@pytest.mark.parametrize(("bits", "text"), APPENDIX_B.items(), ids=APPENDIX_B.keys())
def test_numbers_are_written_as_appendix_b_has_them(dumps: Dumps, bits: str, text: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert dumps(number) == text.encode()


@both
@pytest.mark.parametrize("given", DOCUMENTS, ids=["readme", "3.2.2", "3.2.3"])
def test_documents_are_written_as_published(dumps: Dumps, given: str) -> None:
    assert dumps(json.loads(given)) == DOCUMENTS[given].encode()


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**53, -(2**53), 10**20, "\ud800", {1, 2}], ids=repr)
def test_what_has_no_canonical_form_is_refused(value: Any) -> None:
    """`jcs` lets 2^53 and 10^20 through; what the record is hashed with must not."""
    with pytest.raises((rfc8785.CanonicalizationError, ValueError)):
        rfc8785.dumps(value)


def test_sorted_json_is_not_canonical_json() -> None:
    """Why `json.dumps(sort_keys=True)` would not do."""
    value = {"\ufb33": 1.0, "😀": 1e-07}
    plain = json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode()
    assert plain != rfc8785.dumps(value) == '{"😀":1e-7,"\ufb33":1}'.encode()


RFC_8032 = {  # §7.1: secret, public, message, signature
    "1": (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595b"
        "be24655141438e7a100b",
    ),
    "2": (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb430"
        "2aeeb00d291612bb0c00",
    ),
    "3": (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716e"
        "d28dc027beceea1ec40a",
    ),
    "SHA(abc)": (
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643c"
        "e80e2a9ac94fa54ca49f",
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e0303dca179c138a"
        "c17ad9bef1177331a704",
    ),
}


@pytest.mark.parametrize("case", RFC_8032.values(), ids=RFC_8032.keys())
def test_signatures_are_those_of_rfc_8032(case: tuple[str, str, str, str]) -> None:
    secret, public, message, signature = (bytes.fromhex(text) for text in case)
    key = Ed25519PrivateKey.from_private_bytes(secret)
    assert key.public_key().public_bytes_raw() == public
    assert key.sign(message) == signature
    key.public_key().verify(signature, message)
    for spoiled in (signature[:-1], bytes([signature[0] ^ 1]) + signature[1:], signature[:63] + b"\xff"):
        with pytest.raises(InvalidSignature):
            key.public_key().verify(spoiled, message)
    with pytest.raises(InvalidSignature):
        key.public_key().verify(signature, message + b"x")
