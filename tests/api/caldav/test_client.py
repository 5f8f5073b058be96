"""Servers that refuse, stand still, answer nonsense or keep no rules: each is told plainly, no more."""

from __future__ import annotations

import gzip
import io
import logging
import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import httpx2
import pytest

from api.caldav import Calendar, Login, PinnedTransport, Tally
from api.caldav.client import MOST_BYTES
from api.caldav.errors import (
    CalendarBusy,
    CalendarRefused,
    CalendarUnreachable,
    HostNotAllowed,
    NotACalendar,
)
from api.errors import ServiceError
from api.logs import set_up_logging
from api.problems import problem_of

from .conftest import HERE, Pusher
from .events import expected, item_of, items_of, name_of, seen, uid_of
from .radicale import PASSWORD, USER, Radicale
from .rough_server import RoughServer

SECRET_PATH = "s3cret-path"
ADDRESS = f"http://127.0.0.1:9/{SECRET_PATH}/nights/"


def opened(answer: Callable[[httpx2.Request], httpx2.Response], waits: list[float] | None = None) -> Calendar:
    def wait(wait_s: float) -> bool:
        (waits if waits is not None else []).append(wait_s)
        return True

    return Calendar(ADDRESS, Login(USER, PASSWORD), httpx2.MockTransport(answer), wait)


def assert_tells_no_secret(error: ServiceError) -> None:
    told = f"{error} {problem_of(error)}"
    for secret in (USER, PASSWORD, SECRET_PATH):
        assert secret not in told
    assert "127.0.0.1" in told


def test_a_wrong_password_is_told(pusher: Pusher) -> None:
    with pytest.raises(CalendarRefused) as refused:
        pusher(items_of([1]), Login(USER, "another"))
    assert refused.value.answered == 401
    assert problem_of(refused.value)["answered"] == 401


@pytest.mark.parametrize("path", ["", "stargazers/", "stargazers/no-such/", "nobody/nights/"])
def test_an_address_of_no_calendar_is_never_written_to(pusher: Pusher, server: Radicale, path: str) -> None:
    """This server would make a whole new collection of an event written into a plain one."""
    pusher.address = f"{server.root}{path}"
    writes = server.writes()
    with pytest.raises((NotACalendar, CalendarRefused)):
        pusher(items_of([1]))
    assert server.writes() == writes


def test_a_collection_of_contacts_is_no_calendar(pusher: Pusher, server: Radicale) -> None:
    made = server.ask(
        "MKCOL", f"{server.root}{USER}/friends/",
        '<?xml version="1.0"?><mkcol xmlns="DAV:" xmlns:R="urn:ietf:params:xml:ns:carddav"><set><prop>'
        "<resourcetype><collection/><R:addressbook/></resourcetype></prop></set></mkcol>",
    )  # fmt: skip
    assert made.status_code == 201
    pusher.address = f"{server.root}{USER}/friends/"
    with pytest.raises(NotACalendar):
        pusher(items_of([1]))


def test_an_address_without_its_last_slash_will_do(pusher: Pusher, server: Radicale) -> None:
    pusher.address = server.calendar.rstrip("/")
    pusher(items_of([1]))
    assert seen(server.events()) == expected(items_of([1]))


def test_a_server_that_is_down_is_told() -> None:
    with socket.socket() as bound:
        bound.bind(("127.0.0.1", 0))
        address = f"http://127.0.0.1:{bound.getsockname()[1]}/{SECRET_PATH}/"
        with pytest.raises(CalendarUnreachable) as found:
            Calendar(address, Login(USER, PASSWORD), PinnedTransport(HERE), bool)
    assert_tells_no_secret(found.value)


def test_a_host_nobody_knows_is_told() -> None:
    def resolve(host: str, port: int) -> list[str]:
        raise socket.gaierror(-2, "Name or service not known")

    transport = PinnedTransport(HERE, resolve)
    with pytest.raises(CalendarUnreachable, match="nobody knows this host"):
        Calendar("https://calendar.example/a/", Login(USER, PASSWORD), transport, bool)


@pytest.mark.parametrize("status", [400, 403, 405, 500, 501])
def test_a_refusal_is_told_with_its_status(status: int) -> None:
    with pytest.raises(CalendarRefused) as refused:
        opened(lambda request: httpx2.Response(status, text=f"{USER} {PASSWORD}"))
    assert refused.value.answered == status
    assert_tells_no_secret(refused.value)


@pytest.mark.parametrize(("status", "after", "waits"), [
    (503, "7", [7, 7]), (429, "0", [0, 0]), (503, None, [2, 4]), (507, "1", [1, 1]), (507, None, []),
    (503, "31", []), (503, "Wed, 21 Oct 2026 07:28:00 GMT", [2, 4]), (429, "99999999999", [2, 4]),
])  # fmt: skip
def test_a_busy_server_is_asked_again_within_reason(
    status: int, after: str | None, waits: list[float]
) -> None:
    headers = {} if after is None else {"Retry-After": after}
    waited: list[float] = []
    with pytest.raises(CalendarBusy) as busy:
        opened(lambda request: httpx2.Response(status, headers=headers), waited)
    assert waited == waits
    assert busy.value.answered == status
    assert_tells_no_secret(busy.value)


def test_a_server_that_was_busy_once_is_pushed_to(pusher: Pusher, server: Radicale) -> None:
    asked: list[str] = []

    class Busy(PinnedTransport):
        def handle_request(self, request: httpx2.Request) -> httpx2.Response:
            asked.append(request.method)
            if asked.count(request.method) == 1:
                return httpx2.Response(503, headers={"Retry-After": "3"})
            return super().handle_request(request)

    pusher.transport = lambda: Busy(HERE)
    pusher(items_of([1]))
    assert pusher.waits == [3, 3, 3]
    assert seen(server.events()) == expected(items_of([1]))


def test_a_server_that_is_busy_before_every_write_is_not_waited_for_all_day() -> None:
    rough, waited = RoughServer(busy_at_first=True), list[float]()

    def wait(wait_s: float) -> bool:
        waited.append(wait_s)
        return True

    with pytest.raises(CalendarBusy):
        rough.push(items_of(range(9)), wait=wait)
    assert waited == [30, 30, 30, 30]
    assert rough.writes == 4


def calendar(before: bytes = b"", extra: bytes = b"") -> bytes:
    """An answer that tells of a calendar, with something more in it."""
    return (
        b'<?xml version="1.0" encoding="utf-8"?>' + before + b'<multistatus xmlns="DAV:" '
        b'xmlns:C="urn:ietf:params:xml:ns:caldav"><response><href>/s3cret-path/nights/</href><propstat><prop>'
        b"<resourcetype><collection/><C:calendar/></resourcetype></prop><status>HTTP/1.1 200 OK</status>"
        b"</propstat>" + extra + b"</response></multistatus>"
    )


def test_the_same_answer_without_evil_is_a_calendar() -> None:
    with opened(lambda request: httpx2.Response(207, content=calendar(extra=b"<error>none</error>"))):
        pass


BOMB = (
    b'<!DOCTYPE multistatus [<!ENTITY a "aaaaaaaaaa">'
    + b"".join(b'<!ENTITY %c "%s">' % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(9))
    + b"]>"
)


@pytest.mark.parametrize("body", [
    calendar(BOMB, b"<error>&j;</error>"), calendar(BOMB, b"<error>&a;</error>"),
    calendar(b'<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/passwd">]>', b"<error>&x;</error>"),
    calendar(b'<!DOCTYPE a SYSTEM "http://127.0.0.1:9/evil.dtd">'),
    b"<html>Welcome</html>", b"", b"\xff\xfe\x00", calendar()[:-3],
    b"<multistatus/>", calendar().replace(b'encoding="utf-8"', b'encoding="no-such"'),
    calendar(extra=b"<a>" * 50 + b"</a>" * 50), calendar(extra=b"<a/>" * 200_000),
    calendar().replace(b"<C:calendar/>", b""), calendar().replace(b"200 OK", b"403 Forbidden"),
    calendar().replace(b"/s3cret-path/nights/", b"/s3cret-path/others/"),
], ids=[
    "bomb", "small entity", "file", "dtd", "html", "empty", "bytes", "cut", "no namespace", "encoding",
    "deep", "many", "no calendar", "not told", "of another",
])  # fmt: skip
def test_evil_or_damaged_xml_is_no_calendar(body: bytes) -> None:
    with pytest.raises(NotACalendar) as found:
        opened(lambda request: httpx2.Response(207, content=body))
    assert_tells_no_secret(found.value)


def test_an_answer_without_end_is_not_read_to_it() -> None:
    read = 0

    class Endless(httpx2.SyncByteStream):
        def __iter__(self) -> Iterator[bytes]:
            nonlocal read
            while True:
                read += 1_000_000
                yield b" " * 1_000_000

    with pytest.raises(NotACalendar):
        opened(lambda request: httpx2.Response(207, stream=Endless()))
    assert read <= MOST_BYTES + 1_000_000


def test_packed_answers_are_not_unpacked() -> None:
    """Not even one that would be a calendar: a small answer may unpack to a large one."""
    packed = gzip.compress(calendar())
    with pytest.raises(NotACalendar, match="packs its answers"):
        opened(lambda request: httpx2.Response(
            207, headers={"Content-Encoding": "gzip"}, stream=httpx2.ByteStream(packed)
        ))  # fmt: skip


@pytest.mark.parametrize("to", [
    "http://127.0.0.1:10/elsewhere/", "http://localhost:9/nights/", "https://127.0.0.1:9/nights/",
    "//evil.example/", "http://[", "ftp://127.0.0.1/",
])  # fmt: skip
@pytest.mark.parametrize("status", [301, 302, 307, 308])
def test_no_redirect_leads_to_another_server(to: str, status: int) -> None:
    asked: list[httpx2.URL] = []

    def answer(request: httpx2.Request) -> httpx2.Response:
        asked.append(request.url)
        return httpx2.Response(status, headers={"Location": to})

    with pytest.raises(NotACalendar):
        opened(answer)
    assert [str(one) for one in asked] == [ADDRESS]


def test_a_redirect_on_the_same_server_is_followed_a_few_times(pusher: Pusher, server: Radicale) -> None:
    class Moved(PinnedTransport):
        def handle_request(self, request: httpx2.Request) -> httpx2.Response:
            if request.url.path.startswith("/old/"):
                return httpx2.Response(301, headers={"Location": f"/{USER}/nights/"})
            return super().handle_request(request)

    pusher.transport, pusher.address = (lambda: Moved(HERE)), f"{server.root}old/"
    pusher(items_of([1]))
    assert seen(server.events()) == expected(items_of([1]))
    asked: list[str] = []

    def round_and_round(request: httpx2.Request) -> httpx2.Response:
        asked.append(request.url.path)
        return httpx2.Response(302, headers={"Location": "again/"})

    with pytest.raises(NotACalendar):
        opened(round_and_round)
    assert len(asked) == 4


def test_a_redirected_write_is_a_refusal() -> None:
    rough = RoughServer(redirects_writes=True)
    with pytest.raises(CalendarRefused):
        rough.push(items_of([1]))


@pytest.mark.parametrize("tags", ["none", "weak"])
def test_a_server_that_tells_no_tag_of_a_write_is_asked_for_it(tags: str) -> None:
    rough = RoughServer(tags_of_writes=tags)
    assert rough.push(items_of([1, 2])).created == 2
    writes = rough.writes
    assert rough.push(items_of([1, 2])).unchanged == 2
    assert rough.writes == writes
    assert rough.push([item_of(1, 1), item_of(2)]).updated == 1


def test_a_server_that_rewrites_what_it_keeps_is_pushed_to_once() -> None:
    rough = RoughServer(rewrites=True, tags_of_writes="none")
    assert rough.push(items_of([1, 2])).created == 2
    writes = rough.writes
    assert rough.push(items_of([1, 2])).unchanged == 2
    assert rough.writes == writes
    tally = rough.push([item_of(1, 1), item_of(2)])
    assert (tally.updated, tally.conflicts) == (1, [])


def test_a_tag_that_is_not_the_one_told_later_is_no_change_by_hand() -> None:
    rough = RoughServer(tags_of_writes="another")
    rough.push(items_of([1]))
    writes = rough.writes
    tally = rough.push(items_of([1]))
    assert (tally.unchanged, tally.conflicts, rough.writes) == (1, [], writes)


@pytest.mark.parametrize("tags", ["none", "weak"])
def test_a_server_without_strong_tags_is_not_written_over(tags: str) -> None:
    """If-Match takes no weak tag (RFC 9110, 13.1.1), so that nothing would be safe from us."""
    rough = RoughServer(tags=tags)
    rough.store[f"/{SECRET_PATH}/nights/{name_of(1)}"] = item_of(1).text
    before = dict(rough.store)
    with pytest.raises(NotACalendar, match="no entity tags"):
        rough.push([item_of(1, 1)])
    assert rough.store == before


def test_an_event_that_never_stands_still_is_left() -> None:
    rough = RoughServer(restless=True)
    rough.store[f"/{SECRET_PATH}/nights/{name_of(1)}"] = item_of(1).text
    tally = rough.push([item_of(1, 1)])
    assert [(one.uid, one.found.value) for one in tally.conflicts] == [(uid_of(1), "changed")]


def test_names_of_other_events_in_an_answer_are_not_taken_for_ours() -> None:
    rough = RoughServer(foreign_hrefs=True)
    assert rough.push(items_of([1])).created == 1
    assert rough.push(items_of([1])).unchanged == 1


@contextmanager
def tls_server_of_nobody() -> Iterator[int]:
    """A server that ends every TLS handshake."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()

        def serve() -> None:
            try:
                while True:
                    listener.accept()[0].close()
            except OSError:
                pass

        threading.Thread(target=serve, daemon=True).start()
        yield int(listener.getsockname()[1])
        listener.shutdown(socket.SHUT_RDWR)


def test_a_server_that_cannot_speak_tls_is_told() -> None:
    with tls_server_of_nobody() as port, pytest.raises(CalendarUnreachable) as found:
        Calendar(
            f"https://127.0.0.1:{port}/{SECRET_PATH}/", Login(USER, PASSWORD), PinnedTransport(HERE), bool
        )
    assert_tells_no_secret(found.value)


def test_a_certificate_nobody_trusts_is_told() -> None:
    def answer(request: httpx2.Request) -> httpx2.Response:
        raise httpx2.ConnectError(str(ssl.SSLCertVerificationError("certificate verify failed")))

    with pytest.raises(CalendarUnreachable, match="certificate is not one"):
        opened(answer)


def test_a_host_that_is_not_allowed_is_never_asked() -> None:
    with pytest.raises(HostNotAllowed) as refused:
        Calendar(ADDRESS, Login(USER, PASSWORD), PinnedTransport(frozenset()), bool)
    assert_tells_no_secret(refused.value)


def test_no_log_holds_a_secret(pusher: Pusher, server: Radicale, caplog: pytest.LogCaptureFixture) -> None:
    """Neither the service's own, nor what the libraries would tell whoever asks them for everything."""
    handlers, level = logging.root.handlers[:], logging.root.level
    told = io.StringIO()
    try:
        set_up_logging("text", told)
        pusher(items_of([1]))
        with pytest.raises(CalendarRefused):
            pusher(items_of([1]), Login(USER, f"{PASSWORD}!"))
    finally:
        logging.root.handlers[:] = handlers
        logging.root.setLevel(level)
    assert told.getvalue() == ""
    with caplog.at_level(logging.DEBUG):
        pusher(items_of([1, 2]))
    assert PASSWORD not in caplog.text
    assert "Authorization" not in caplog.text
    assert "Basic " not in caplog.text


def test_a_login_does_not_show_its_password() -> None:
    assert PASSWORD not in repr(Login(USER, PASSWORD))


def test_a_tally_is_told_as_json() -> None:
    rough = RoughServer()
    tally = rough.push(items_of([1]))
    assert tally.told() == {
        "created": 1, "updated": 0, "deleted": 0, "unchanged": 0, "kept": 0, "conflicts": [],
    }  # fmt: skip
    del rough.store[f"/{SECRET_PATH}/nights/{name_of(1)}"]
    assert rough.push(items_of([1])).told()["conflicts"] == [
        {"uid": uid_of(1), "evening": "2026-09-13", "found": "deleted", "outcome": "left as it is"}
    ]
    assert Tally() == Tally()
