from __future__ import annotations

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.caldav.content import digest_of, is_as_written, marked, sequence_of, uid_of

from .events import edited, item_of
from .events import uid_of as uid_of_night

TEXT = item_of(1, 3).text
RICH = TEXT.replace(
    "END:VEVENT",
    'ATTENDEE;CN="Jory, of Hendra";ROLE=REQ-PARTICIPANT:mailto:jory@hendra.example\r\nGEO:50.1;8.2\r\n'
    "URL;VALUE=URI:https://plans.example/a?b=c&d=e\r\nCATEGORIES:astronomy,club\r\n"
    "BEGIN:VALARM\r\nACTION:DISPLAY\r\nDESCRIPTION:dress\\, warmly\r\nTRIGGER:-PT2H\r\nEND:VALARM\r\n"
    "BEGIN:VALARM\r\nACTION:DISPLAY\r\nDESCRIPTION:leave\r\nTRIGGER:-PT1H\r\nEND:VALARM\r\nEND:VEVENT",
)


@pytest.mark.parametrize("text", [TEXT, RICH])
def test_another_way_to_write_it_down_says_the_same(text: str) -> None:
    rewritten = icalendar.Calendar.from_ical(text).to_ical(sorted=True).decode()
    head, _, said = text.replace("\r\n ", "").partition("UID:")
    one_line = said.split("\r\n")[0]
    backwards = f"{head}{said.removeprefix(one_line)}".replace("END:VEVENT", f"UID:{one_line}\r\nEND:VEVENT")
    unfolded = text.replace("\r\n ", "").replace("\r\n", "\n").replace("SUMMARY", "summary")
    added = text.replace(
        "END:VEVENT", "X-MOZ-LASTACK:20260101T000000Z\r\nCREATED:20200101T000000Z\r\nEND:VEVENT"
    )
    assert text not in {unfolded, added, backwards}
    others = (rewritten, unfolded, added, backwards)
    assert {digest_of(one) for one in others} == {digest_of(text)}


LINES = [line for line in RICH.replace("\r\n ", "").split("\r\n") if line]
EVENT = LINES[LINES.index("BEGIN:VEVENT") : LINES.index("END:VEVENT") + 1]
COUNTS = [line for line in EVENT if not line.startswith(("DTSTAMP", "LAST-MODIFIED", "BEGIN", "END"))]


@pytest.mark.parametrize("line", COUNTS)
def test_every_change_of_what_it_says_shows(line: str) -> None:
    """Each line left out, and each with a sign more: nothing a person would see is passed over."""
    whole = digest_of("\r\n".join(LINES))
    without = LINES.copy()
    without.remove(line)
    assert digest_of("\r\n".join(without)) != whole
    assert digest_of("\r\n".join(LINES).replace(line, f"{line}1")) != whole
    assert digest_of("\r\n".join([*LINES[:-2], line, *LINES[-2:]])) != whole


def test_an_alarm_moved_or_another_event_shows() -> None:
    more = RICH.replace("END:VCALENDAR", "BEGIN:VEVENT\r\nUID:x\r\nEND:VEVENT\r\nEND:VCALENDAR")
    assert len({digest_of(one) for one in (TEXT, RICH, more, RICH.replace("-PT2H", "-PT3H"))}) == 4


def test_the_mark_tells_whether_somebody_changed_it() -> None:
    assert not is_as_written(RICH)
    assert is_as_written(marked(RICH))
    assert digest_of(marked(RICH)) == digest_of(RICH)
    assert is_as_written(icalendar.Calendar.from_ical(marked(RICH)).to_ical().decode())
    assert not is_as_written(edited(marked(RICH).encode(), summary="Elsewhere"))
    assert not is_as_written(marked(RICH).replace("X-DUSKWRIGHT-DIGEST:", "X-DUSKWRIGHT-DIGEST:0"))
    assert all(len(line.encode()) <= 75 for line in marked(TEXT).split("\r\n"))
    assert icalendar.Calendar.from_ical(marked(RICH)).walk("VEVENT")[0]["UID"] == uid_of_night(1)


def test_uid_and_sequence_are_those_of_the_events() -> None:
    assert (uid_of(RICH), sequence_of(RICH)) == (uid_of_night(1), 3)
    alarm = RICH.replace("BEGIN:VALARM", "BEGIN:VALARM\r\nUID:of-the-alarm\r\nSEQUENCE:9")
    assert (uid_of(alarm), sequence_of(alarm)) == (uid_of_night(1), 3)
    assert uid_of(TEXT + item_of(2).text) is None
    assert uid_of(TEXT.replace("VEVENT", "VTODO")) is None
    assert (uid_of(""), sequence_of("")) == (None, 0)
    assert sequence_of(TEXT.replace("SEQUENCE:3", "SEQUENCE:-1")) == 0


@given(
    st.text(max_size=200) | st.lists(st.sampled_from([*LINES, "END:VEVENT", "", " ", "\r"])).map("\r\n".join)
)
def test_nothing_a_server_may_send_is_too_odd(text: str) -> None:
    assert len(digest_of(text)) == 64
    uid_of(text), sequence_of(text), is_as_written(text)
