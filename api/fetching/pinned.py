"""Connections to IP addresses that were checked, all of whose time is counted together."""

from __future__ import annotations

import queue
import socket
import ssl
import threading
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from time import monotonic

import httpcore2


def resolved(host: str, port: int) -> Sequence[str]:
    """Return the IP addresses of a host, as the system knows them."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(one[4][0]) for one in found))


def within(until_s: float, ask: Callable[[], Sequence[str]]) -> Sequence[str]:
    """Return what a blocking question gives, or raise `TimeoutError`; nobody waits for who is too late."""
    answers: queue.SimpleQueue[Sequence[str] | Exception] = queue.SimpleQueue()

    def asked() -> None:
        try:
            answers.put(ask())
        except Exception as error:
            answers.put(error)

    threading.Thread(target=asked, name="duskwright-resolver", daemon=True).start()
    try:
        found = answers.get(timeout=max(0.0, until_s - monotonic()))
    except queue.Empty:
        raise TimeoutError from None
    if isinstance(found, Exception):
        raise found
    return found


class Pinned(httpcore2.NetworkBackend):
    """Connects to addresses that were checked, whatever the host's name is looked up as by then."""

    def __init__(self, addresses: Sequence[str], until_s: float) -> None:
        self._addresses, self._until_s = addresses, until_s
        self._system = httpcore2.SyncBackend()

    def connect_tcp(
        self,
        host: str,
        port: int,
        timeout: float | None = None,
        local_address: str | None = None,
        socket_options: Iterable[httpcore2.SOCKET_OPTION] | None = None,
    ) -> httpcore2.NetworkStream:
        """Connect to the first checked address that answers."""
        for address in self._addresses[:-1]:
            with suppress(httpcore2.ConnectError):
                return self._connected(address, port, socket_options)
        return self._connected(self._addresses[-1], port, socket_options)

    def _connected(
        self, address: str, port: int, options: Iterable[httpcore2.SOCKET_OPTION] | None
    ) -> httpcore2.NetworkStream:
        left_s = _left(self._until_s, httpcore2.ConnectTimeout)
        stream = self._system.connect_tcp(address, port, left_s, None, options)
        return _Timed(stream, self._until_s)


class _Timed(httpcore2.NetworkStream):
    """A connection all of whose time is counted together, so that nobody is fed drop by drop."""

    def __init__(self, stream: httpcore2.NetworkStream, until_s: float) -> None:
        self._stream, self._until_s = stream, until_s

    def read(self, max_bytes: int, timeout: float | None = None) -> bytes:
        """Read what comes in the time that is left."""
        return self._stream.read(max_bytes, _left(self._until_s, httpcore2.ReadTimeout))

    def write(self, buffer: bytes, timeout: float | None = None) -> None:
        """Write in the time that is left."""
        self._stream.write(buffer, _left(self._until_s, httpcore2.WriteTimeout))

    def start_tls(
        self, ssl_context: ssl.SSLContext, server_hostname: str | None = None, timeout: float | None = None
    ) -> httpcore2.NetworkStream:
        """Begin TLS in the time that is left."""
        left_s = _left(self._until_s, httpcore2.ConnectTimeout)
        return _Timed(self._stream.start_tls(ssl_context, server_hostname, left_s), self._until_s)

    def get_extra_info(self, info: str) -> object:
        """Return what the connection itself tells."""
        return self._stream.get_extra_info(info)

    def close(self) -> None:
        """Close the connection."""
        self._stream.close()


def _left(until_s: float, late: type[Exception]) -> float:
    left_s = until_s - monotonic()
    if left_s <= 0:
        raise late("out of time")
    return left_s
