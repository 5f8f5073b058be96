"""How often a caller may ask: a bucket of tokens for each, refilled as time goes by; memory is bounded.

A caller is known by its address until the key it brings has been accepted; from then on by the digest of
that key, never the key itself. So a stranger who tries keys is one caller however many are tried, and a key
that works is not shut out by what others at its address do.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Callable
from hashlib import sha256
from ipaddress import IPv6Address, ip_address, ip_network
from time import monotonic

MOST_CALLERS = 10_000
FAILURES_PER_MINUTE = 10
"""How often an address may bring no key, or one that is not accepted."""

Clock = Callable[[], float]


class Buckets:
    """A bucket for each name, full at first; the names longest unheard of are forgotten.

    Parameters
    ----------
    per_minute : What a bucket holds, and what flows into it in a minute.
    clock : Tells a time that only goes forward. [s]
    most : How many buckets are kept.

    Examples
    --------
    >>> buckets = Buckets(2, clock=lambda: 0.0)
    >>> [buckets.take("a"), buckets.take("a"), buckets.take("a"), buckets.take("b")]
    [0.0, 0.0, 30.0, 0.0]
    """

    def __init__(self, per_minute: int, clock: Clock = monotonic, most: int = MOST_CALLERS) -> None:
        self._per_minute, self._clock, self._most = per_minute, clock, most
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def __len__(self) -> int:
        return len(self._buckets)

    def wait_s(self, name: str) -> float:
        """Return how long until there is a token to take, 0 where there is one."""
        level = self._level(name)
        return 0.0 if level >= 1 else (1 - level) * 60 / self._per_minute

    def take(self, name: str) -> float:
        """Take a token and return 0, or how long until there is one. [s]"""
        wait_s = self.wait_s(name)
        if wait_s == 0:
            self._buckets[name] = self._level(name) - 1, self._clock()
            self._buckets.move_to_end(name)
            if len(self._buckets) > self._most:
                self._buckets.popitem(last=False)
        return wait_s

    def _level(self, name: str) -> float:
        level, then_s = self._buckets.get(name, (float(self._per_minute), self._clock()))
        return min(self._per_minute, level + (self._clock() - then_s) * self._per_minute / 60)


class Limits:
    """Decides who has asked too often.

    Parameters
    ----------
    per_minute : Requests a caller may send in a minute, in one go if it likes; 0 sets no limit at all.
    clock : Tells a time that only goes forward. [s]
    """

    def __init__(self, per_minute: int, clock: Clock = monotonic) -> None:
        self._on = per_minute > 0
        self._requests = Buckets(max(1, per_minute), clock)
        self._failures = Buckets(FAILURES_PER_MINUTE, clock)
        self._accepted: OrderedDict[str, None] = OrderedDict()

    def retry_after_s(self, address: str, token: str | None) -> int | None:
        """Count a request; return None where it may pass, else after how many seconds to come again."""
        if not self._on:
            return None
        caller = _digest_of(token) if token is not None else None
        if caller is not None and caller in self._accepted:
            wait_s = self._requests.take(caller)
        else:
            stranger = network_of(address)
            wait_s = self._failures.wait_s(stranger) or self._requests.take(stranger)
        return math.ceil(wait_s) if wait_s else None

    def answered(self, address: str, token: str | None, status: int, key_id: str | None) -> None:
        """Learn from the answer whether the caller's key was accepted."""
        caller = _digest_of(token) if token is not None else None
        if status == 401:
            self._failures.take(network_of(address))
            self._accepted.pop(caller or "", None)
        elif caller is not None and key_id is not None:
            self._accepted[caller] = None
            self._accepted.move_to_end(caller)
            if len(self._accepted) > MOST_CALLERS:
                self._accepted.popitem(last=False)


def network_of(address: str) -> str:
    """Return what stands for a caller's address: for IPv6 its network of 64 bits, which one household has.

    Examples
    --------
    >>> [network_of(a) for a in ("192.0.2.7", "2001:db8:1:2:3::4", "::ffff:192.0.2.7", "a socket")]
    ['192.0.2.7', '2001:db8:1:2::/64', '192.0.2.7', 'a socket']
    """
    try:
        known = ip_address(address)
    except ValueError:
        return address
    if isinstance(known, IPv6Address):
        return str(known.ipv4_mapped or ip_network((int(known), 64), strict=False))
    return str(known)


def _digest_of(token: str) -> str:
    return sha256(token.encode("utf-8", "surrogateescape")).hexdigest()
