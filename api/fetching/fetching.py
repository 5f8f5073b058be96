"""Fetching a member's calendar from the address it has elsewhere, so that nobody can point us at ourselves.

Only https. The host's addresses are looked up by us, each is checked, and the connection goes to one of
those that were checked, so that a name that changes its mind in between leads nowhere else; the certificate
is still the name's. Redirects are followed by hand, each checked like the first. Nothing of the environment
counts, no proxy and no password; nothing is carried from one answer to the next request. Ports are 443 and
those from 1024 on: below lie other services. What is told or logged names the host, never the rest of an
address, which is as good as a password.
"""

from __future__ import annotations

import ssl
from collections.abc import Callable, Mapping, Sequence
from threading import BoundedSemaphore
from time import monotonic
from typing import TypeAlias

import httpcore2
import httpx2

from ..calendar_errors import AddressRefused, NotFetched
from ..errors import NotReady
from .pinned import Pinned, resolved, within
from .public import is_public

MOST_BYTES = 5_000_000
MOST_S = 10.0
"""In all, redirects and looking up names included."""
MOST_REDIRECTS = 3
MOST_AT_ONCE = 8
LONGEST_ADDRESS = 2000
HEADERS: Mapping[bytes | str, bytes | str] = {
    "Accept": "text/calendar",
    "Accept-Encoding": "identity",
    "User-Agent": "Duskwright",
}

Resolve: TypeAlias = Callable[[str, int], Sequence[str]]
"""Returns the IP addresses of a host."""

_REDIRECTS = {301, 302, 303, 307, 308}


class Fetching:
    """Fetches calendars.

    Parameters
    ----------
    resolve : Looks hosts up.
    allowed : Tells whether we may connect to an IP address; tests let themselves reach a server of their own.
    certificates : What makes a certificate count; the system's where None.
    most_s, most_bytes : How long it may take in all [s], and how much may come [byte].
    """

    def __init__(
        self,
        resolve: Resolve = resolved,
        allowed: Callable[[str], bool] = is_public,
        certificates: ssl.SSLContext | None = None,
        most_s: float = MOST_S,
        most_bytes: int = MOST_BYTES,
    ) -> None:
        self._resolve, self._allowed, self._certificates = resolve, allowed, certificates
        self._most_s, self._most_bytes = most_s, most_bytes
        self._room = BoundedSemaphore(MOST_AT_ONCE)

    def __call__(self, address: str) -> bytes:
        """Return what lies at an address.

        Raises
        ------
        AddressRefused
            The address, or one it leads on to, is none we connect to.
        NotFetched
            Nothing came, too much, too slowly, or something else than was asked for.
        NotReady
            Too many are fetched already.
        """
        if not self._room.acquire(blocking=False):
            raise NotReady("too many calendars are fetched at once")
        try:
            return self._followed(address)
        finally:
            self._room.release()

    def _followed(self, address: str) -> bytes:
        until_s = monotonic() + self._most_s
        url = checked_address(address)
        for _ in range(MOST_REDIRECTS + 1):
            found = self._fetched(url, until_s)
            if isinstance(found, bytes):
                return found
            url = _led_on(url, found)
        raise NotFetched(url.host, f"it leads on more than {MOST_REDIRECTS} times")

    def _fetched(self, url: httpx2.URL, until_s: float) -> bytes | str:
        """Return what lies at an address, or where it leads on to."""
        backend = Pinned(self._checked(url, until_s), until_s)
        context = self._certificates or httpcore2.default_ssl_context(_trust_env=False)
        try:
            with (
                httpcore2.ConnectionPool(
                    ssl_context=context, max_connections=1, http2=False, network_backend=backend
                ) as pool,
                pool.stream("GET", _as_sent(url), headers=HEADERS) as answer,
            ):
                return self._read(url.host, answer)
        except httpcore2.TimeoutException:
            raise NotFetched(url.host, f"it took longer than {self._most_s:g} s") from None
        except (httpcore2.NetworkError, httpcore2.ProtocolError, ssl.SSLError, OSError) as error:
            raise NotFetched(url.host, _why(error)) from None

    def _checked(self, url: httpx2.URL, until_s: float) -> Sequence[str]:
        """Return the IP addresses of a host, every one of which may be connected to."""
        host, port = url.raw_host.decode("ascii"), url.port or 443
        try:
            found = within(until_s, lambda: self._resolve(host, port))
        except TimeoutError:
            raise NotFetched(url.host, f"it took longer than {self._most_s:g} s") from None
        except (OSError, UnicodeError):
            raise NotFetched(url.host, "nobody knows this host") from None
        if not found:
            raise NotFetched(url.host, "nobody knows this host")
        if not all(map(self._allowed, found)):
            raise AddressRefused(url.host, "it is no host of the public network")
        return found

    def _read(self, host: str, answer: httpcore2.Response) -> bytes | str:
        told = {name.lower(): value.decode("latin-1") for name, value in answer.headers}
        if answer.status in _REDIRECTS and told.get(b"location"):
            return told[b"location"]
        if answer.status != 200:
            raise NotFetched(host, f"it answered with status {answer.status}")
        if told.get(b"content-encoding", "identity").strip().lower() != "identity":
            raise NotFetched(host, "it answered with something compressed, which was not asked for")
        too_much = NotFetched(host, f"it is larger than {self._most_bytes} bytes")
        length = told.get(b"content-length", "")
        if length.isdecimal() and int(length[:20]) > self._most_bytes:
            raise too_much
        content = bytearray()
        for part in answer.iter_stream():
            content += part
            if len(content) > self._most_bytes:
                raise too_much
        return bytes(content)


def checked_address(address: str) -> httpx2.URL:
    """Return an address that may be fetched from as far as its words go, or raise `AddressRefused`.

    Examples
    --------
    >>> checked_address("https://calendars.example.org/private-7c1f/basic.ics").host
    'calendars.example.org'
    """
    try:
        url = httpx2.URL(address)
        host, port = url.host, url.port
    except (httpx2.InvalidURL, ValueError, TypeError):
        raise AddressRefused("", "it is no address") from None
    reason = (
        "an address begins with https://" if url.scheme != "https" else
        "it names no host" if not host else
        "an address has no user name and no password in it" if url.userinfo else
        f"an address has at most {LONGEST_ADDRESS} signs" if len(address) > LONGEST_ADDRESS else
        "the port is 443 or one from 1024 on" if port not in (None, 443) and not 1024 <= port <= 65535 else
        None
    )  # fmt: skip
    if reason is not None:
        raise AddressRefused(host, reason)
    return url


def _led_on(url: httpx2.URL, location: str) -> httpx2.URL:
    try:
        target = str(url.join(location))
    except (httpx2.InvalidURL, ValueError):
        raise NotFetched(url.host, "it leads on to what is no address") from None
    return checked_address(target)


def _as_sent(url: httpx2.URL) -> httpcore2.URL:
    return httpcore2.URL(scheme=b"https", host=url.raw_host, port=url.port, target=url.raw_path)


def _why(error: Exception) -> str:
    cause: BaseException | None = error
    while cause is not None:
        if isinstance(cause, ssl.SSLCertVerificationError):
            return "its certificate does not count"
        if isinstance(cause, ssl.SSLError):
            return "it does not speak TLS"
        cause = cause.__cause__ or cause.__context__
    if isinstance(error, httpcore2.ConnectError):
        return "it cannot be reached"
    return "it broke off"
