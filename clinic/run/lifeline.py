"""Ties a process's life to its parent's, so that not even `kill -9` of the parent leaves an orphan.

Standard library only.
"""

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1  # linux/prctl.h
LIBC = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None  # found before any fork


def die_with_parent(number: signal.Signals = signal.SIGKILL, *, always: bool = False) -> None:
    """Ask the kernel to send this process a signal when its parent dies (Linux; elsewhere nothing happens).

    The request does not survive a fork, so each process makes its own: but, unless `always`, only below the parent in
    `clinic.run`, which says so in the environment. A web server that runs by itself is nobody's business.
    """
    if LIBC is not None and (always or os.environ.get("CLINIC_LIFELINE") == "1"):
        LIBC.prctl(PR_SET_PDEATHSIG, int(number), 0, 0, 0)
