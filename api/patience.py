"""How long the service waits for slow clients, and how many it has at the same time; set on purpose.

A client may take its time over a request's head (`HEAD_S`) and body (`BODY_S`, kept by the guards), and keep
a connection without asking anything (`KEEP_ALIVE_S`). Who is slower is let go, so that a few who send a byte
a minute cannot hold every connection. Beyond `MOST_CONNECTIONS` the server answers 503 and asks no app.
"""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

HEAD_S = 10.0
BODY_S = 60.0
KEEP_ALIVE_S = 5
STOPPING_S = 5
"""How long answers under way may take when the service stops."""
HEAD_BYTES = 16_384
MOST_CONNECTIONS = 500


class PatientProtocol(HttpToolsProtocol):
    """Closes a connection on which the head of a request does not come in time, or is too long."""

    head_s = HEAD_S
    _late: asyncio.TimerHandle | None = None
    _in_head = False
    _came_bytes = _told_bytes = 0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first head."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Stop waiting once a head is whole; begin to when some of the next has come."""
        super().data_received(data)
        if self._in_head:  # the parser tells of whole lines alone
            self._came_bytes += len(data)
            if self._came_bytes > HEAD_BYTES:
                self.send_400_response("The head of the request is too long.")
        if self.cycle is None or self.cycle.response_complete:
            self._wait()
        else:
            self._stop_waiting()

    def on_message_begin(self) -> None:
        """Begin to count a head."""
        super().on_message_begin()
        self._in_head, self._came_bytes, self._told_bytes = True, 0, 0

    def on_url(self, url: bytes) -> None:
        """Count the address."""
        self._count(len(url))
        super().on_url(url)

    def on_header(self, name: bytes, value: bytes) -> None:
        """Count a line of the head."""
        self._count(len(name) + len(value) + len(b": \r\n"))
        super().on_header(name, value)

    def _count(self, told_bytes: int) -> None:
        """Count what the parser tells of a head; too long a one is an error of the request."""
        self._told_bytes += told_bytes
        if self._told_bytes > HEAD_BYTES:
            raise ValueError("the head of the request is too long")

    def on_headers_complete(self) -> None:
        """Count no more: the rest is the body."""
        self._in_head = False
        super().on_headers_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _wait(self) -> None:
        if self._late is None:
            self._late = self.loop.call_later(self.head_s, self.transport.close)

    def _stop_waiting(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None


SERVER: dict[str, Any] = {
    "http": PatientProtocol, "ws": "none",
    "timeout_keep_alive": KEEP_ALIVE_S, "timeout_graceful_shutdown": STOPPING_S,
    "limit_concurrency": MOST_CONNECTIONS,
}  # fmt: skip
"""What the web server is told of all this."""
