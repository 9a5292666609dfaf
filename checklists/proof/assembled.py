"""One file of the parts in `offline/`: the `verify.py` that a bundle carries.

Each part is a module of its own here. Of each, what follows its imports is taken as it stands; the imports are gathered
at the top, those of the parts themselves fall away.
"""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

PARTS = ("tree", "notes", "rows", "signatures", "page", "check", "command")
FOLDER = Path(__file__).parent / "offline"
OURS = "checklists.proof.offline."
HEAD = '''#!/usr/bin/env python3
"""Checks a proof bundle off line: python3 verify.py [BUNDLE.zip | FOLDER] [--key FINGERPRINT] [--checkpoint FILE]

Needs nothing but Python (3.9 or newer) and its library `cryptography`. Says in plain sentences what holds and what does
not. Exit status 0: everything holds. 1: something does not, or is not proved yet.

--key FINGERPRINT    the fingerprint of a signing key that you got from the clinic by another way than this bundle
--checkpoint FILE    a checkpoint that somebody else kept: a witness, or the e-mail to the records officer

The formats are open: RFC 9162 (the tree), RFC 8032 (Ed25519), C2SP signed-note and tlog-checkpoint (checkpoints).
"""

from __future__ import annotations

'''
NEEDS = """
try:
{imports}
except ImportError:
    sys.exit("verify.py needs Python's library 'cryptography' (for example: python3 -m pip install cryptography).")

"""


@cache
def verify_py() -> str:
    """The text of verify.py."""
    found: dict[str, set[str]] = {}
    bodies = []
    for part in PARTS:
        text = (FOLDER / f"{part}.py").read_text(encoding="utf-8")
        imports = [one for one in ast.parse(text).body if isinstance(one, ast.Import | ast.ImportFrom)]
        for one in imports:
            found.setdefault(one.module or "" if isinstance(one, ast.ImportFrom) else "", set()).update(
                name.name for name in one.names
            )
        last = max(one.end_lineno or 0 for one in imports)
        bodies.append("\n".join(text.splitlines()[last:]).strip("\n"))
    plain = [f"import {name}" for name in sorted(found.pop("", ()))]
    needed = []
    for module, names in sorted(found.items()):
        line = f"from {module} import {', '.join(sorted(names))}"
        if module.startswith("cryptography"):
            needed.append(f"    {line}")
        elif module != "__future__" and not module.startswith(OURS):
            plain.append(line)
    tops = "\n".join(plain) + NEEDS.format(imports="\n".join(needed))
    return HEAD + tops + "\n" + "\n\n\n".join(bodies) + "\n"
