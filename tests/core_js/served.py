"""The core in JavaScript to a browser, as the programme serves its scripts: files of the checkout, under the policy of
the settings, no word of it changed."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from csp.utils import build_policy

ROOT = Path(__file__).parents[2]
PAGE = "/tests/core_js/compared.html"
OPEN = ("/tests/core_js/", "/checklists/static/checklists/core/")


class Files(SimpleHTTPRequestHandler):
    """Scripts of the core and of these comparisons, nothing else."""

    extensions_map = {  # noqa: RUF012 - the base has it so
        **SimpleHTTPRequestHandler.extensions_map,
        ".mjs": "text/javascript",
        ".js": "text/javascript",
    }

    def __init__(self, *given: object, policy: str) -> None:
        self._policy = policy
        super().__init__(*given, directory=str(ROOT))  # type: ignore[arg-type]  # what the server hands to a handler

    def do_GET(self) -> None:
        if self.path.startswith(OPEN) and ".." not in self.path:
            super().do_GET()
        else:
            self.send_error(404)

    def end_headers(self) -> None:
        self.send_header("Content-Security-Policy", self._policy)
        self.send_header("X-Content-Type-Options", "nosniff")
        super().end_headers()

    def log_message(self, *said: object) -> None:
        """Nothing is said of a file that was read."""


@contextmanager
def served() -> Iterator[str]:
    """The address of the page."""
    handler = partial(Files, policy=build_policy())
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        try:
            yield f"http://127.0.0.1:{server.server_port}{PAGE}"
        finally:
            server.shutdown()
