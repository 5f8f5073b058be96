"""Whom a push may reach: addresses are resolved once, checked, and then held to.

Who plans for a club chooses the address; who runs the service answers for its network. So what lies in that
network is reached only where the settings name it.

References
----------
M. Cotton, L. Vegoda, R. Bonica, B. Haberman, "Special-Purpose IP Address Registries", RFC 6890, 2013.
B. Carpenter, K. Moore, "Connection of IPv6 Domains via IPv4 Clouds", RFC 3056, 2001 (2002::/16).
C. Bao et al., "IPv6 Addressing of IPv4/IPv6 Translators", RFC 6052, 2010 (64:ff9b::/96).
"""

from __future__ import annotations

import re
import socket
from collections.abc import Callable, Sequence, Set
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from typing import TypeAlias

import httpx2

from scheduler.errors import InvalidValue

from .errors import CalendarUnreachable, HostNotAllowed

ADDRESS = (
    "https://HOST/PATH of a calendar, without user, password, ? or #; http only where HOST is this machine"
)
Resolve: TypeAlias = Callable[[str, int], Sequence[str]]
"""Returns the addresses of a host, or raises `OSError`."""
_DISGUISED = tuple(map(ip_network, ("2002::/16", "64:ff9b::/96", "64:ff9b:1::/48", "2001::/32")))
"""IPv6 networks that stand for addresses of another sort, and so could stand for ours."""


def resolved(host: str, port: int) -> Sequence[str]:
    """Return the addresses of a host as the system knows them."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return tuple(dict.fromkeys(str(one[4][0]) for one in found))


def is_public(address: str) -> bool:
    """Tell whether an address is one of the open network.

    Examples
    --------
    >>> [is_public(one) for one in ("93.184.216.34", "10.0.0.7", "::1", "::ffff:10.0.0.7", "2002:a00::1")]
    [True, False, False, False, False]
    """
    try:
        one: IPv4Address | IPv6Address = ip_address(address)
    except ValueError:
        return False
    if isinstance(one, IPv6Address) and one.ipv4_mapped is not None:
        one = one.ipv4_mapped
    disguised = any(one in network for network in _DISGUISED)
    return one.is_global and not one.is_multicast and not disguised


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
