"""A small witness behind HTTP: GET /checkpoint gives the latest, POST /checkpoint and POST /ring are judged and kept.

It holds no secret and no record: hashes, sizes, times and signatures. It belongs on another machine, in other hands.
"""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from socket import socket
from socketserver import BaseServer
from threading import BoundedSemaphore
from typing import Any

from clinic.ledger.witness import CHECKPOINT, MOST_BYTES, PATIENCE, RING, read
from clinic.ledger.witness_keep import Answer, Keep

MOST_AT_ONCE = 32  # requests, each in a thread; a ledger sends one at a time
MOST_DIGITS = 6  # of a length: more are not even made a number of

_BUSY = b"This witness has as many requests as it takes at once: try again.\n"
_FULL = (
    b"HTTP/1.0 503 Service Unavailable\r\nContent-Type: text/plain; charset=utf-8\r\nRetry-After: 10\r\n"
    b"Content-Length: %d\r\n\r\n%s" % (len(_BUSY), _BUSY)
)


def server(keep: Keep, host: str, port: int) -> ThreadingHTTPServer:
    """A server over the witness's folder; `serve_forever()` runs it. Port 0 takes a free one."""
    return _Bounded((host, port), partial(_Handler, keep))


class _Bounded(ThreadingHTTPServer):
    """So many requests at once and no more; what comes beyond is told to try later, without a thread."""

    def __init__(self, *given: Any) -> None:
        self._free = BoundedSemaphore(MOST_AT_ONCE)
        super().__init__(*given)

    def process_request(self, request: Any, client_address: Any) -> None:
        """A thread for it while there is room."""
        if not self._free.acquire(blocking=False):
            with suppress(OSError):
                request.setblocking(False)
                request.sendall(_FULL)
                request.recv(MOST_BYTES)  # what is left unread would take the answer away when it is closed
            self.shutdown_request(request)
            return
        try:
            super().process_request(request, client_address)
        except RuntimeError:  # no thread could be begun; whatever else ends the process may come when one was
            self._free.release()
            raise

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """In the thread: the room is free again, whatever happened."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._free.release()


class _Handler(BaseHTTPRequestHandler):
    """One request."""

    server_version = "witness"
    sys_version = ""
    timeout = PATIENCE

    def __init__(self, keep: Keep, request: socket, address: tuple[str, int], of: BaseServer) -> None:
        self.keep = keep
        super().__init__(request, address, of)

    def do_GET(self) -> None:
        """The latest note."""
        if self.path != CHECKPOINT:
            self._say(Answer(404, "There is nothing here. The latest checkpoint stands under /checkpoint."))
        elif note := self.keep.note():
            self._say(Answer(200, note))
        else:
            self._say(Answer(404, "This witness has no checkpoint yet."))

    def do_POST(self) -> None:
        """A checkpoint or a ring to keep."""
        length = self.headers.get("Content-Length", "")
        if not length.isdecimal() or len(length) > MOST_DIGITS or int(length) > MOST_BYTES:
            self.close_connection = True
            self._say(Answer(413, f"A request states its length, and has at most {MOST_BYTES} bytes."))
            return
        try:
            text = self.rfile.read(int(length)).decode()
            self._say(self._judged(text))
        except ValueError as error:
            self._say(Answer(400, f"This is no request that a witness takes: {error}."))

    def _judged(self, text: str) -> Answer:
        if self.path == RING:
            return self.keep.take_ring(text)
        if self.path == CHECKPOINT:
            return self.keep.take(*read(text))
        return Answer(404, "There is nothing here. Checkpoints are sent to /checkpoint, key rings to /ring.")

    def _say(self, answer: Answer) -> None:
        body = answer.text.encode()
        self.send_response(answer.status)
        self.send_header("Content-Type", "text/plain; charset=utf-8")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)
