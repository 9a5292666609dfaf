"""Ties a process's life to its parent's, so that not even `kill -9` of the parent leaves an orphan. Standard library only."""

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1  # linux/prctl.h


def die_with_parent(number: int = signal.SIGKILL) -> None:
    """Ask the kernel to send this process a signal when its parent dies (Linux; elsewhere nothing happens).

    The request does not survive a fork: each process makes its own. Only where the parent in `clinic.run` started us,
    or one of its children did; a web server that runs by itself is nobody's business.
    """
    if sys.platform != "linux" or os.environ.get("CLINIC_LIFELINE") != "1":
        return
    ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, int(number), 0, 0, 0)
