"""A small stand-in for calendar servers that keep fewer rules than they should."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from xml.etree.ElementTree import fromstring
from xml.sax.saxutils import escape

import httpx2

from api.caldav import Calendar, Conflicts, Course, Item, Login, Tally, push

from .events import Notes

HOME = "/s3cret-path/nights/"


@dataclass
class RoughServer:
    """Keeps texts by path. Each fault is one real servers have."""

    tags: str = "strong"
    tags_of_writes: str = "strong"
    rewrites: bool = False
    restless: bool = False
    redirects_writes: bool = False
    foreign_hrefs: bool = False
    busy_at_first: bool = False
    store: dict[str, str] = field(default_factory=dict)
    notes: Notes = field(default_factory=Notes)
    writes: int = 0
    turns: int = 0
    asked: set[str] = field(default_factory=set)

    def push(
        self, items: Sequence[Item], conflicts: Conflicts = Conflicts.REPORT,
        wait: Callable[[float], bool] = bool,
    ) -> Tally:  # fmt: skip
        tally = Tally()
        login = Login("stargazers", "corréct horse:7")
        with Calendar(f"http://127.0.0.1:9{HOME}", login, self.transport(), wait) as calendar:
            push(calendar, items, self.notes.pushed, conflicts, Course(self.notes), tally)
        return tally

    def transport(self) -> httpx2.BaseTransport:
        """What carries requests to it, whatever host they name."""
        return httpx2.MockTransport(self._answer)

    def _answer(self, request: httpx2.Request) -> httpx2.Response:
        self.turns += 1
        path = request.url.path
        match request.method:
            case "PROPFIND":
                kind = "<resourcetype><collection/><C:calendar/></resourcetype>"
                return _multistatus([(path, kind)])
            case "REPORT":
                return self._report(request.content)
            case _ if self.redirects_writes:
                return httpx2.Response(307, headers={"Location": "/elsewhere/"})
            case "PUT" if self.busy_at_first and path not in self.asked:
                self.asked.add(path)
                return httpx2.Response(503, headers={"Retry-After": "30"})
            case "PUT":
                return self._put(path, request)
            case _:
                return self._delete(path, request)

    def _report(self, question: bytes) -> httpx2.Response:
        hrefs = [one.text or "" for one in fromstring(question).iter("{DAV:}href")]
        found = [
            (f"http://127.0.0.1:9{href}" if self.foreign_hrefs else href, self._properties(href, question))
            for href in hrefs if href in self.store
        ]  # fmt: skip
        if self.foreign_hrefs:
            found += [("/s3cret-path/other" + href, '<getetag>"x"</getetag>') for href in hrefs]
            found += [("", '<getetag>"x"</getetag>'), ("http://[", '<getetag>"x"</getetag>')]
        return _multistatus(found)

    def _properties(self, path: str, question: bytes) -> str:
        tag = {"strong": self._tag(path), "weak": f"W/{self._tag(path)}", "none": ""}[self.tags]
        told = f"<getetag>{escape(tag)}</getetag>" if tag else ""
        if b"calendar-data" in question:
            told += f"<C:calendar-data>{escape(self.store[path])}</C:calendar-data>"
        return told

    def _put(self, path: str, request: httpx2.Request) -> httpx2.Response:
        if not self._holds(path, request):
            return httpx2.Response(412)
        text, known = request.content.decode(), path in self.store
        if self.rewrites:
            kept = [line for line in text.split("\r\n") if not line.startswith(("X-", "LOCATION"))]
            text = "\r\n".join(kept).replace("END:VEVENT", "COMMENT:kept here\r\nEND:VEVENT")
        self.store[path] = text
        self.writes += 1
        told = {
            "strong": self._tag(path), "weak": f"W/{self._tag(path)}", "another": '"another"', "none": None
        }[self.tags_of_writes]  # fmt: skip
        return httpx2.Response(204 if known else 201, headers={} if told is None else {"ETag": told})

    def _delete(self, path: str, request: httpx2.Request) -> httpx2.Response:
        if path not in self.store:
            return httpx2.Response(404)
        if not self._holds(path, request):
            return httpx2.Response(412)
        del self.store[path]
        self.writes += 1
        return httpx2.Response(204)

    def _holds(self, path: str, request: httpx2.Request) -> bool:
        if request.headers.get("If-None-Match") == "*":
            return path not in self.store
        return path in self.store and request.headers.get("If-Match") == self._tag(path)

    def _tag(self, path: str) -> str:
        salt = str(self.turns) if self.restless else ""
        return f'"{sha256((self.store[path] + salt).encode()).hexdigest()[:12]}"'


def _multistatus(found: Sequence[tuple[str, str]]) -> httpx2.Response:
    told = "".join(
        f"<response><href>{href}</href><propstat><prop>{properties}</prop>"
        "<status>HTTP/1.1 200 OK</status></propstat></response>"
        for href, properties in found
    )
    body = f'<multistatus xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav">{told}</multistatus>'
    return httpx2.Response(207, content=body.encode())
