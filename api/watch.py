"""The outermost ring: every request gets an id, is timed, told in the log and counted. No path, no header."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Collection
from time import perf_counter

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from .headers import line_of
from .logs import REQUEST, tell
from .metrics import METHODS, OTHER, Metrics

NO_ROUTE = "none"
_PLAIN = re.compile(r"[A-Za-z0-9._-]{1,64}")


class Watch:
    """Watches all that comes in and goes out.

    What lies behind may leave words in the request's state: `key_id`, the key it came with, and `refused`,
    the kind of problem it was turned away with.

    Parameters
    ----------
    app : What lies behind, the answers to unforeseen errors included.
    metrics : Where requests are counted.
    fixed : Addresses that stand for themselves in log and counts, beside the routes' templates.
    clock : Tells a time that only goes forward. [s]
    """

    def __init__(
        self, app: ASGIApp, metrics: Metrics, fixed: Collection[str] = (),
        clock: Callable[[], float] = perf_counter,
    ) -> None:  # fmt: skip
        self._app, self._metrics, self._fixed, self._clock = app, metrics, fixed, clock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        scope.setdefault("state", {})
        outlet = _Outlet(send, secrets.token_hex(8))
        reset, began_s = REQUEST.set(outlet.request), self._clock()
        try:
            await self._app(scope, receive, outlet)
        except Exception:
            # One that has been answered was logged under the reference its answer gives.
            if not outlet.complete:
                raise
        finally:
            self._note(scope, outlet, self._clock() - began_s)
            REQUEST.reset(reset)

    def _note(self, scope: Scope, outlet: _Outlet, took_s: float) -> None:
        method = scope["method"] if scope["method"] in METHODS else OTHER
        route = getattr(scope.get("route"), "path", NO_ROUTE)
        if route == NO_ROUTE and scope["path"] in self._fixed:
            route = scope["path"]
        state, status = scope["state"], outlet.status or 500
        theirs = line_of(scope["headers"], b"x-request-id") or ""
        client_request = theirs if _PLAIN.fullmatch(theirs) else None
        tell(
            "request", client_request=client_request, method=method, route=route, status=status,
            duration_ms=round(took_s * 1000, 1), key=state.get("key_id"), bytes=outlet.bytes,
        )  # fmt: skip
        self._metrics.request_answered(method, route, status, took_s)
        if "refused" in state:
            self._metrics.request_refused(state["refused"])


class _Outlet:
    """Names the request in the answer, and sees how it goes."""

    def __init__(self, send: Send, request: str) -> None:
        self._send, self.request = send, request
        self.status, self.bytes, self.complete = 0, 0, False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.status = message["status"]
            message.setdefault("headers", []).append((b"request-id", self.request.encode()))
        elif message["type"] == "http.response.body":
            self.bytes += len(message.get("body", b""))
        await self._send(message)
        if message["type"] == "http.response.body":
            self.complete = not message.get("more_body", False)
