"""A calendar on somebody's server, over HTTP: the one place that speaks to it.

References
----------
C. Daboo, B. Desruisseaux, L. Dusseault, "Calendaring Extensions to WebDAV (CalDAV)", RFC 4791, 2007, sections
5.3.2 (creating), 5.3.4 (entity tags), 7.9 (calendar-multiget).
R. Fielding, M. Nottingham, J. Reschke, "HTTP Semantics", RFC 9110, 2022, sections 8.8.3 (entity tags), 10.2.3
(Retry-After), 13.1 (preconditions).
J. Reschke, "The 'Basic' HTTP Authentication Scheme", RFC 7617, 2015.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from time import monotonic
from types import TracebackType
from typing import Self
from urllib.parse import quote

import httpx2

from .errors import CalendarBusy, CalendarRefused, CalendarUnreachable, NotACalendar
from .multistatus import (
    ABOUT_COLLECTION,
    CALDAV,
    DAV,
    NotXml,
    Resource,
    is_calendar,
    multiget,
    names_uid_conflict,
    path_of,
    resources_of,
)
from .nouns import There

MOST_BYTES = 10_000_000
LONGEST_ANSWER_S = 120.0
TAGS_AT_ONCE, TEXTS_AT_ONCE = 200, 40
MOST_REDIRECTS = 3
TRIES = 3
LONGEST_WAIT_S, LONGEST_WAITS_S, WAIT_S = 30, 120, 2
_TIMEOUT = httpx2.Timeout(30.0, connect=10.0)
_MOVED = {301, 302, 307, 308}
_BUSY = {429, 503, 507}
_XML = {"Content-Type": "application/xml; charset=utf-8"}
_EVENT = {"Content-Type": "text/calendar; charset=utf-8"}


class Overtaken(Exception):
    """What was to be written had changed by then; look again. Never leaves this package."""


class Elsewhere(Exception):
    """The server has an event of this UID under another address. Never leaves this package."""


class Cut(Exception):
    """The connection ended before an answer came: the server did what was asked, or not.

    Never leaves this package.
    """


@dataclass(frozen=True, slots=True)
class Login:
    """Who we are to the server."""

    username: str
    password: str = field(repr=False)


@dataclass(frozen=True, slots=True)
class _Answer:
    status: int
    headers: httpx2.Headers
    body: bytes


class Calendar:
    """A calendar collection on a server, found and known to be one.

    Parameters
    ----------
    address : Of the collection.
    login : Who we are there.
    transport : Carries the requests.
    wait : Waits for so many seconds and tells whether to go on.

    Raises
    ------
    CalendarUnreachable, CalendarRefused, CalendarBusy, NotACalendar, HostNotAllowed
        It cannot be pushed to.
    """

    def __init__(
        self, address: str, login: Login, transport: httpx2.BaseTransport, wait: Callable[[float], bool]
    ) -> None:
        self._wait, self._patience_s = wait, LONGEST_WAITS_S
        self._address = httpx2.URL(address if address.endswith("/") else f"{address}/")
        self.host = self._address.host
        self._http = httpx2.Client(
            transport=transport, auth=httpx2.BasicAuth(login.username, login.password), trust_env=False,
            timeout=_TIMEOUT, headers={"Accept-Encoding": "identity", "User-Agent": "Duskwright"},
        )  # fmt: skip
        try:
            self._find()
        except BaseException:
            self._http.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._http.close()

    def tags(self, uids: Iterable[str]) -> dict[str, There]:
        """Return what is there under our addresses of these UIDs: its tags, without texts."""
        return self._there(list(uids), TAGS_AT_ONCE, texts=False)

    def texts(self, uids: Iterable[str]) -> dict[str, There]:
        """Return what is there under our addresses of these UIDs, with its texts."""
        return self._there(list(uids), TEXTS_AT_ONCE, texts=True)

    def put(self, uid: str, text: str, etag: str | None) -> str | None:
        """Write an event where there is none, or over the one of this tag; return its new tag if told.

        Raises
        ------
        Overtaken
            There is one, or another.
        Elsewhere
            It lies there under another address.
        """
        condition = {"If-None-Match": "*"} if etag is None else {"If-Match": etag}
        answer = self._asked("PUT", self._url(uid), {**_EVENT, **condition}, text.encode())
        if answer.status == 412 or (answer.status in {404, 410} and etag is not None):
            raise Overtaken
        if answer.status in {403, 409} and names_uid_conflict(answer.body):
            raise Elsewhere
        self._refuse_unless(answer, {200, 201, 204})
        tag = answer.headers.get("ETag", "").strip()
        return tag if is_strong(tag) else None

    def delete(self, uid: str, etag: str) -> None:
        """Delete the event of this tag; one that is gone already will do. Raise `Overtaken` for another."""
        answer = self._asked("DELETE", self._url(uid), {"If-Match": etag})
        if answer.status == 412:
            raise Overtaken
        self._refuse_unless(answer, {200, 202, 204, 404, 410})

    def _find(self) -> None:
        for _ in range(MOST_REDIRECTS + 1):
            headers = {**_XML, "Depth": "0"}
            answer = self._asked_again("PROPFIND", self._address, headers, ABOUT_COLLECTION.encode())
            if answer.status not in _MOVED:
                break
            self._address = self._moved_to(answer.headers.get("Location", ""))
        if answer.status in _MOVED:
            raise NotACalendar(self.host, "the server sends us on again and again")
        if answer.status != 207:
            self._refuse_unless(answer, set())
        here = path_of(str(self._address)).rstrip("/")
        found = [one for one in self._read(answer) if one.path.rstrip("/") == here]
        if not any(map(is_calendar, found)):
            raise NotACalendar(self.host, "there is no calendar for events at this address")

    def _moved_to(self, location: str) -> httpx2.URL:
        try:
            to = self._address.join(location)
        except httpx2.InvalidURL:
            raise NotACalendar(self.host, "the server sends us to no address") from None
        if (to.scheme, to.host, to.port) != (self._address.scheme, self.host, self._address.port):
            raise NotACalendar(self.host, "the server sends us to another one; give that one's address")
        return to.copy_with(query=None, fragment=None)

    def _url(self, uid: str) -> httpx2.URL:
        return self._address.join(f"{quote(uid, safe='')}.ics")

    def _there(self, uids: Sequence[str], at_once: int, *, texts: bool) -> dict[str, There]:
        found: dict[str, There] = {}
        for begin in range(0, len(uids), at_once):
            urls = {uid: self._url(uid) for uid in uids[begin : begin + at_once]}
            question = multiget([url.raw_path.decode() for url in urls.values()], texts=texts)
            answer = self._asked_again("REPORT", self._address, {**_XML, "Depth": "1"}, question.encode())
            if answer.status != 207:
                self._refuse_unless(answer, set())
            by_path = {one.path: one for one in self._read(answer)}
            for uid, url in urls.items():
                told = by_path.get(path_of(str(url)))
                if told is not None and told.properties:
                    found[uid] = self._told(told)
        return found

    def _told(self, resource: Resource) -> There:
        tag = (resource.text(f"{DAV}getetag") or "").strip()
        if not is_strong(tag):
            raise NotACalendar(
                self.host, "the server tells no entity tags by which changes by others could be seen"
            )
        return There(tag, resource.text(f"{CALDAV}calendar-data"))

    def _read(self, answer: _Answer) -> tuple[Resource, ...]:
        try:
            return resources_of(answer.body)
        except NotXml as error:
            raise NotACalendar(
                self.host, f"the server does not answer as one of calendars does ({error})"
            ) from error

    def _asked_again(
        self, method: str, url: httpx2.URL, headers: Mapping[str, str], body: bytes = b""
    ) -> _Answer:
        """Ask what changes nothing: once more where the connection was cut."""
        try:
            return self._asked(method, url, headers, body)
        except Cut:
            pass
        try:
            return self._asked(method, url, headers, body)
        except Cut as error:
            raise CalendarUnreachable(self.host, str(error)) from None

    def _asked(self, method: str, url: httpx2.URL, headers: Mapping[str, str], body: bytes = b"") -> _Answer:
        """Ask, again after a while where the server is busy and does not ask for too long a while."""
        for tried in range(1, TRIES + 1):
            answer = self._sent(method, url, headers, body)
            if answer.status not in _BUSY:
                break
            told_s = _seconds(answer.headers.get("Retry-After"))
            wait_s = WAIT_S * tried if told_s is None else told_s
            vain = tried == TRIES or (answer.status == 507 and told_s is None)
            if vain or wait_s > min(LONGEST_WAIT_S, self._patience_s) or not self._wait(wait_s):
                raise CalendarBusy(self.host, answer.status, told_s)
            self._patience_s -= wait_s
        return answer

    def _sent(self, method: str, url: httpx2.URL, headers: Mapping[str, str], body: bytes) -> _Answer:
        until_s = monotonic() + LONGEST_ANSWER_S
        try:
            with self._http.stream(method, url, headers=dict(headers), content=body) as answer:
                if answer.headers.get("Content-Encoding", "identity").lower() != "identity":
                    raise NotACalendar(self.host, "the server packs its answers although asked not to")
                kept = b"".join(self._bounded(answer.iter_bytes(), until_s))
                return _Answer(answer.status_code, answer.headers, kept)
        except (httpx2.ConnectError, httpx2.ConnectTimeout) as error:
            raise CalendarUnreachable(self.host, _told_plainly(error)) from None
        except httpx2.TransportError as error:
            raise Cut(_told_plainly(error)) from None

    def _bounded(self, chunks: Iterator[bytes], until_s: float) -> Iterator[bytes]:
        count = 0
        for chunk in chunks:
            count += len(chunk)
            if count > MOST_BYTES or monotonic() > until_s:
                raise NotACalendar(self.host, "the server's answer does not end")
            yield chunk

    def _refuse_unless(self, answer: _Answer, expected: set[int]) -> None:
        if answer.status in expected:
            return
        if answer.status in {404, 410}:
            raise NotACalendar(self.host, "there is nothing at this address")
        raise CalendarRefused(self.host, answer.status)


def is_strong(tag: str) -> bool:
    """Tell whether a text is a strong entity tag, the only sort that can be a condition of a change.

    Examples
    --------
    >>> [is_strong(tag) for tag in ('"7-1"', 'W/"7-1"', "7-1", "")]
    [True, False, False, False]
    """
    inner = tag[1:-1]
    plain = all(char == "!" or ("#" <= char <= "~") or char >= "\x80" for char in inner)
    return len(tag) >= 2 and tag[0] == tag[-1] == '"' and plain


def _seconds(told: str | None) -> int | None:
    """Return the seconds of a Retry-After; a date is taken for none."""
    return int(told) if told is not None and told.strip().isdecimal() and len(told) < 9 else None


def _told_plainly(error: httpx2.TransportError) -> str:
    """Return what happened in words without addresses."""
    if isinstance(error, httpx2.TimeoutException):
        return "it did not answer in time"
    if "CERTIFICATE" in str(error).upper():
        return "its certificate is not one this machine trusts for this name"
    return "no connection" if isinstance(error, httpx2.ConnectError) else "the connection was cut"
