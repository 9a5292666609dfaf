"""Published vectors of the tree: transparency-dev/merkle@417fb0c `testonly/constants.go`, whose leaf inputs, hashes and
roots stand in many public test suites of RFC 6962; and the consistency examples of RFC 9162 §2.1.5."""

from __future__ import annotations

ENTRIES = [
    bytes.fromhex(text)
    for text in ("", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f")
]

HASHES = {
    name: bytes.fromhex(text)
    for name, text in {
        "h0": "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "h1": "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "h2": "0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7",
        "h3": "07506a85fd9dd2f120eb694f86011e5bb4662e5c415a62917033d4a9624487e7",
        "h4": "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        "h5": "4271a26be0d8a84f0bd54c8c302e7cb3a3b5d1fa6780a40bcce2873477dab658",
        "h6": "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
        "h7": "46f6ffadd3d06a09ff3c5860d2755c8b9819db7df44251788c7d8e3180de8eb1",
        "n01": "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
        "n23": "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "n45": "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "n67": "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "n03": "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        "n47": "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        "n46": "837dbb152e9b079010717e84e865da4ebc0fa198a806d59d31bf15accef22d0e",
    }.items()
}

ROOTS = [
    bytes.fromhex(text)
    for text in (
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
        "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
        "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
        "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
        "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
    )
]

INCLUSION = {  # (leaf, size): path
    (0, 8): "h1 n23 n47",
    (5, 8): "h4 n67 n03",
    (2, 3): "n01",
    (0, 7): "h1 n23 n46",
    (3, 7): "h2 n01 n46",
    (4, 7): "h5 h6 n03",
    (6, 7): "n45 n03",
}
CONSISTENCY = {  # (first, second): path; the last three are RFC 9162 §2.1.5
    (1, 8): "h1 n23 n47",
    (6, 8): "n45 n67 n03",
    (2, 5): "n23 h4",
    (3, 7): "h2 h3 n01 n46",
    (4, 7): "n46",
    (6, 7): "n45 h6 n03",
}


def hashes(names: str) -> list[bytes]:
    """The hashes of these names."""
    return [HASHES[name] for name in names.split()]
