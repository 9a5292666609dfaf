#!/usr/bin/env python3
"""The one way in: makes and uses the project's own environment, then runs the command that was asked for.

Any Python from 3.11 on may start it; nothing but the standard library (and pip) is needed until the environment stands.
"""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def main() -> int:
    """Make sure of the environment (this may start the program again inside it), then run the command."""
    if sys.version_info < (3, 11):
        print("This program needs Python 3.11 or newer; this is %d.%d." % sys.version_info[:2], file=sys.stderr)
        return 2
    sys.path.insert(0, str(HERE))
    from clinic.run import environment

    environment.ensure(HERE, sys.argv[1:])

    from clinic.run import door

    return door.run(sys.argv)


if __name__ == "__main__":
    sys.exit(main())
