"""What was found a moment ago and is taken for true a moment longer: checked keys, lasting answers.

Every change that passes through this process makes it forget everything, before the change is answered. So a
key revoked here opens nothing here from then on; a process that did not see it may take the key for `LIFE_S`
and `GRACE_S` longer, two seconds, and no key is taken beyond its own end.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from math import inf
from time import monotonic
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from .conditional import is_known
from .headers import line_of, token_of

LIFE_S = 1.5
GRACE_S = 0.5
"""How much longer a finding is taken for true while one looks again, so that not all do so at once."""
MOST = 10_000
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})


class Recent:
    """Findings by name, each with a short life; used in the event loop alone.

    Whoever looks something up first takes a `mark`: a finding is not kept if a change came in between.

    Parameters
    ----------
    clock : Tells a time that only goes forward. [s]
    life_s : How long a finding is taken for true, and `GRACE_S` longer by all but the first who then asks.
    most : How many are kept; the oldest go first.

    Examples
    --------
    >>> recent = Recent(clock=lambda: 0.0)
    >>> mark = recent.mark
    >>> recent.put("key", "Jory's", mark)
    >>> recent.get("key")
    "Jory's"
    >>> recent.forget()
    >>> recent.put("key", "Jory's", mark)
    >>> recent.get("key") is None
    True
    """

    def __init__(
        self, clock: Callable[[], float] = monotonic, life_s: float = LIFE_S, most: int = MOST
    ) -> None:
        self._clock, self._life_s, self._most = clock, life_s, most
        self._found: OrderedDict[object, tuple[float, float, Any]] = OrderedDict()
        self.mark = 0

    def get(self, name: object) -> Any:
        """Return what was found under a name; None where it is too old, or who asks is to look again."""
        until_s, end_s, found = self._found.get(name, (0.0, 0.0, None))
        now_s = self._clock()
        if until_s <= now_s < end_s:
            self._found[name] = end_s, end_s, found
            return None
        return found if now_s < until_s else None

    def put(self, name: object, found: object, mark: int, life_s: float = inf) -> None:
        """Keep a finding looked up since `mark`; it is true for `life_s` at the longest."""
        if mark != self.mark:
            return
        now_s = self._clock()
        self._found[name] = (
            now_s + min(self._life_s, life_s), now_s + min(self._life_s + GRACE_S, life_s), found,
        )  # fmt: skip
        self._found.move_to_end(name)
        if len(self._found) > self._most:
            self._found.popitem(last=False)

    def forget(self) -> None:
        """Take nothing for true any longer."""
        self._found.clear()
        self.mark += 1


@dataclass(frozen=True, slots=True)
class _Unchanged:
    """An answer 304, and what log and counts are told of it."""

    tag: str
    headers: list[tuple[bytes, bytes]]
    route: object
    key_id: str | None


class Again:
    """Answers who asks once more, with the same key, for what never changes and what it has already.

    A route says that its answer never changes by `lasting` in the request's state; `key_until_s` there tells
    until when the key counts, by the clock that only goes forward. [s]

    Parameters
    ----------
    app : What lies behind.
    recent : Where answers are kept a moment, and what is emptied by every change.
    """

    def __init__(self, app: ASGIApp, recent: Recent) -> None:
        self._app, self._recent = app, recent

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        scope.setdefault("state", {})
        name = _name_of(scope) if scope["method"] == "GET" else None
        known: _Unchanged | None = None if name is None else self._recent.get(name)
        if known is not None and is_known(line_of(scope["headers"], b"if-none-match"), known.tag):
            scope["state"]["key_id"], scope["route"] = known.key_id, known.route
            await send({"type": "http.response.start", "status": 304, "headers": list(known.headers)})
            await send({"type": "http.response.body", "body": b""})
            return
        mark = self._recent.mark

        async def watched(message: Message) -> None:
            if message["type"] == "http.response.start":
                if scope["method"] not in SAFE and message["status"] < 400:
                    self._recent.forget()
                elif name is not None and message["status"] == 304 and "lasting" in scope["state"]:
                    self._keep(name, scope, message, mark)
            await send(message)

        await self._app(scope, receive, watched)

    def _keep(self, name: object, scope: Scope, message: Message, mark: int) -> None:
        state, headers = scope["state"], list(message["headers"])
        tag = line_of(headers, b"etag") or ""
        known = _Unchanged(tag, headers, scope.get("route"), state.get("key_id"))
        self._recent.put(name, known, mark, state.get("key_until_s", inf) - monotonic())


def _name_of(scope: Scope) -> object:
    """Return what a conditional request asks for, and by which key; None where it has no condition."""
    lines = scope["headers"]
    if line_of(lines, b"if-none-match") is None:
        return None
    key = (token_of(lines) or "").encode("latin-1")
    return scope["path"], scope["query_string"], sha256(key).digest()
