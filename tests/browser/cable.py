"""A cable between the browser and the server, to be pulled: what neither of the two is told.

Cutting the network inside a browser leaves open what a service worker would have met, and a browser that is killed
comes back with its network. A cable lies outside both: pulled, it drops what runs through it and takes no new call.
"""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator
from types import TracebackType
from typing import Self
from urllib.parse import urlsplit

CHUNK = 65_536


class Cable:
    """Forwards every connection to the server's port while it is plugged in. Keeps its own port while it is not."""

    def __init__(self, server: str) -> None:
        self._to = (str(urlsplit(server).hostname), int(urlsplit(server).port or 80))
        self._open: set[socket.socket] = set()
        self._lock = threading.Lock()
        self._plugged = True
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._listener.getsockname()[1]}"

    def __enter__(self) -> Self:
        threading.Thread(target=self._take_calls, daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.pull()
        self._listener.close()

    def pull(self) -> None:
        """Every connection ends at once, and no new one reaches the server."""
        with self._lock:
            self._plugged = False
            for end in self._open:
                _hang_up(end)
            self._open.clear()

    def plug_in(self) -> None:
        """From now on, calls go through again."""
        with self._lock:
            self._plugged = True

    def _take_calls(self) -> None:
        while True:
            try:
                caller, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._connect, args=(caller,), daemon=True).start()

    def _connect(self, caller: socket.socket) -> None:
        with self._joined(caller) as server:
            if server is None:
                return
            back = threading.Thread(target=_pump, args=(server, caller), daemon=True)
            back.start()
            _pump(caller, server)
            back.join()

    @contextlib.contextmanager
    def _joined(self, caller: socket.socket) -> Iterator[socket.socket | None]:
        """Both ends, known to whoever pulls the cable."""
        with caller, contextlib.ExitStack() as stack:
            with self._lock:
                if not self._plugged:
                    _hang_up(caller)
                    yield None
                    return
                server = stack.enter_context(socket.create_connection(self._to))
                ends = {caller, server}
                self._open |= ends
            try:
                yield server
            finally:
                with self._lock:
                    self._open -= ends


def _pump(source: socket.socket, target: socket.socket) -> None:
    with contextlib.suppress(OSError):
        while chunk := source.recv(CHUNK):
            target.sendall(chunk)
        target.shutdown(socket.SHUT_WR)


def _hang_up(end: socket.socket) -> None:
    with contextlib.suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
