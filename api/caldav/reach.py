"""Whom a push may reach: addresses are resolved once, checked, and then held to.

Who plans for a club chooses the address; who runs the service answers for its network. So what lies in that
network is reached only where the settings name it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence, Set
from ipaddress import ip_address
from typing import TypeAlias

import httpx2

from scheduler.errors import InvalidValue

from ..fetching import is_public, resolved
from .errors import CalendarUnreachable, HostNotAllowed

ADDRESS = (
    "https://HOST/PATH of a calendar, without user, password, ? or #; http only where HOST is this machine"
)
Resolve: TypeAlias = Callable[[str, int], Sequence[str]]
"""Returns the addresses of a host, or raises `OSError`."""


def checked_address(address: str) -> httpx2.URL:
    """Return the address of a collection that may be pushed to, as far as its words tell.

    Raises
    ------
    InvalidValue
        It is none; what is told of it holds no more than its beginning, for the rest may be a secret.

    Examples
    --------
    >>> checked_address("https://calendar.example.org/stargazers/nights/").host
    'calendar.example.org'
    """
    try:
        url = httpx2.URL(address)
        host, port = url.host, url.port
    except (httpx2.InvalidURL, ValueError):
        raise InvalidValue("address", "what is no address", ADDRESS) from None
    plain = not (url.userinfo or url.query or url.fragment or "?" in address or "#" in address)
    safe = url.scheme == "https" or (url.scheme == "http" and _is_loopback(host))
    named = re.fullmatch(r"[a-z0-9.-]+|[0-9a-f:.]+", url.raw_host.decode("ascii")) is not None
    if not (named and plain and safe and (port is None or 0 < port < 65536)):
        raise InvalidValue("address", f"{url.scheme[:10]}://{host[:80]}", ADDRESS)
    return url


def _is_loopback(host: str) -> bool:
    try:
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


class PinnedTransport(httpx2.BaseTransport):
    """Sends requests to addresses that were checked, and to no other a later look-up might name.

    The certificate is held against the name all the same.

    Parameters
    ----------
    allowed : Names and addresses that may lie in the own network.
    resolve : Looks names up.
    inner : Sends requests to addresses.

    Raises
    ------
    HostNotAllowed
        The host lies in the own network and is not named.
    CalendarUnreachable
        Nobody knows the host.
    """

    def __init__(
        self, allowed: Set[str], resolve: Resolve = resolved, inner: httpx2.BaseTransport | None = None
    ) -> None:
        self._allowed, self._resolve = allowed, resolve
        self._inner = inner or httpx2.HTTPTransport(trust_env=False)
        self._known: dict[str, list[str]] = {}

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        """Send a request, to the first address of its host that listens."""
        host = request.url.raw_host.decode("ascii")
        if host not in self._known:
            self._known[host] = self._checked(request.url, host)
        addresses = self._known[host]
        while True:
            try:
                return self._inner.handle_request(_sent_to(addresses[0], request))
            except (httpx2.ConnectError, httpx2.ConnectTimeout):
                if len(addresses) == 1:
                    raise
                del addresses[0]

    def close(self) -> None:
        """Let go of every connection."""
        self._inner.close()

    def _checked(self, url: httpx2.URL, host: str) -> list[str]:
        port = url.port or (443 if url.scheme == "https" else 80)
        try:
            addresses = list(self._resolve(host, port))
        except (OSError, UnicodeError):
            addresses = []
        if not addresses:
            raise CalendarUnreachable(host, "nobody knows this host")
        for one in addresses:
            if not (is_public(one) or {host, one} & self._allowed):
                raise HostNotAllowed(
                    host, "it lies in this service's own network, and push_hosts does not name it"
                )
            if url.scheme != "https" and not ip_address(one).is_loopback:
                raise HostNotAllowed(host, "it would be told the password without TLS")
        return addresses


def _sent_to(address: str, request: httpx2.Request) -> httpx2.Request:
    """Return the request as it is sent to an address of its host."""
    return httpx2.Request(
        request.method, request.url.copy_with(host=address), headers=request.headers, stream=request.stream,
        extensions={**request.extensions, "sni_hostname": request.url.raw_host.decode("ascii")},
    )  # fmt: skip
