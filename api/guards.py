"""What every request passes on its way in and out, before any route: plain ASGI, no body is kept here."""

from __future__ import annotations

from asyncio import get_running_loop, timeout_at
from collections.abc import Collection

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from .errors import ForeignOrigin, TooManyRequests, WrongHost
from .headers import add_standing, line_of, token_of
from .kinds import kind_of
from .limits import Limits
from .patience import BODY_S
from .problems import problem_response

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
UNLIMITED = frozenset({"/livez"})
"""Whoever watches over the process must learn that it lives, however busy it is."""


class Guards:
    """Refuse strangers, the too frequent and too large bodies, ask HEAD as GET, add the standing headers.

    A page of any site can make a browser send requests to this machine, and by pointing its own name at
    127.0.0.1 even read the answers. So the request must name one of our `hosts`, and a page that asks for a
    change must be ours.

    Parameters
    ----------
    app : What lies behind.
    hosts : Names this service answers for, without port, in lower case.
    body_bytes : Largest body let through. [bytes]
    limits : How often a caller may ask.
    origin : Of our own pages, as browsers reach them through a proxy; None where they reach us directly.
    body_s : How long a whole body may take to come. [s]
    """

    def __init__(
        self, app: ASGIApp, hosts: Collection[str], body_bytes: int, limits: Limits,
        origin: str | None = None, body_s: float = BODY_S,
    ) -> None:  # fmt: skip
        self._app, self._hosts, self._limits, self._origin = app, hosts, limits, origin
        self._body_bytes, self._body_s = body_bytes, body_s

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        scope.setdefault("state", {})
        outlet = _Outlet(send)
        refusal = self._refusal(scope)
        if refusal is not None:
            _note(scope, refusal)
            await problem_response(refusal)(scope, receive, outlet)
            return
        # The server itself keeps the body of an answer to HEAD back; the routes only know GET.
        inward = {**scope, "method": "GET"} if scope["method"] == "HEAD" else scope
        try:
            await self._app(inward, _Inlet(scope, receive, self._body_bytes, self._body_s), outlet)
        finally:
            self._limits.answered(*_caller(scope), outlet.status, scope["state"].get("key_id"))
            if "route" in inward:  # whoever stands before us may want to know
                scope["route"] = inward["route"]

    def _refusal(self, scope: Scope) -> Exception | None:
        if scope["path"] not in UNLIMITED:
            retry_after_s = self._limits.retry_after_s(*_caller(scope))
            if retry_after_s is not None:
                return TooManyRequests(retry_after_s)
        lines = scope["headers"]
        host = line_of(lines, b"host") or ""
        if _without_port(host) not in self._hosts:
            return WrongHost(host)
        origin = line_of(lines, b"origin")
        if (
            scope["method"] not in SAFE_METHODS
            and origin is not None
            and origin not in {f"{scope['scheme']}://{host}", self._origin}
        ):
            return ForeignOrigin(origin)
        stated = line_of(lines, b"content-length") or "0"
        if stated.isdecimal() and int(stated[:20]) > self._body_bytes:
            return too_large(self._body_bytes)
        return None


class _Inlet:
    """Counts and times a body as it comes: it may state no length or a false one, and never end."""

    def __init__(self, scope: Scope, receive: Receive, body_bytes: int, body_s: float) -> None:
        self._scope, self._receive = scope, receive
        self._body_bytes, self._came = body_bytes, 0
        self._body_s, self._whole = body_s, False
        self._until_s: float | None = None

    async def __call__(self) -> Message:
        if self._whole:  # what follows a body is only that the client left
            return await self._receive()
        if self._until_s is None:
            self._until_s = get_running_loop().time() + self._body_s
        try:
            async with timeout_at(self._until_s):
                message = await self._receive()
        except TimeoutError:
            raise self._noted(HTTPException(408, f"a body must come within {self._body_s:g} s")) from None
        self._came += len(message.get("body", b""))
        self._whole = not message.get("more_body", False)
        if self._came > self._body_bytes:
            raise self._noted(too_large(self._body_bytes))
        return message

    def _noted(self, refusal: HTTPException) -> HTTPException:
        _note(self._scope, refusal)
        return refusal


class _Outlet:
    """Adds the standing headers a route has not set itself."""

    def __init__(self, send: Send) -> None:
        self._send, self.status = send, 0

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.status = message["status"]
            add_standing(message.setdefault("headers", []))
        await self._send(message)


def too_large(body_bytes: int) -> HTTPException:
    """Return the refusal of a body; the web framework lets only its own kind of error out of body reading."""
    return HTTPException(413, f"a body may hold at most {body_bytes} bytes")


def _caller(scope: Scope) -> tuple[str, str | None]:
    """Return a request's address, and its key where it brings one."""
    return scope["client"][0] if scope.get("client") else "unknown", token_of(scope["headers"])


def _note(scope: Scope, refusal: Exception) -> None:
    scope["state"]["refused"] = kind_of(refusal).name


def _without_port(host: str) -> str:
    name, colon, port = host.rpartition(":")
    return (name if colon and port.isdecimal() else host).lower()
