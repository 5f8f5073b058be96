"""A calendar program that subscribes to a feed, and an auditor who looks at all it could get. Not shipped.

What a program keeps of an event follows B. Desruisseaux (ed.), RFC 5545, 2009, section 3.8.7.4, and C. Daboo
(ed.), RFC 5546, 2009, section 2.1.5: by UID, the highest SEQUENCE counts, then the latest DTSTAMP.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from .calendar_readers import Seen, by_icalendar, content_lines
from .journeys import Answer, Service

_EVENT = re.compile(r"BEGIN:VEVENT\r\n.*?END:VEVENT\r\n", re.DOTALL)
_UID = re.compile(r"\r\nUID:(.*?)\r\n")
_URL = re.compile(r"\r\nURL:.*?\r\n(?: .*?\r\n)*", re.DOTALL)


def ask(service: Service, path: str, tag: str | None = None, *, compressed: bool = False) -> Answer:
    """Ask for a feed as a program does, and not from what the service remembers of the last two seconds."""
    service.client.app.state.services.recent.forget()
    headers = {"Accept-Encoding": "gzip" if compressed else "identity"}
    return service.ask("GET", path, headers=headers | ({} if tag is None else {"If-None-Match": tag}))


def events_in(text: str) -> dict[str, str]:
    """Return the text of each event by uid, without its link, which a fresh address changes."""
    events = _EVENT.findall(text)
    found = {_UID.findall(event)[0]: _URL.sub("\r\n", event) for event in events}
    assert len(found) == len(events), "an event stands there twice"
    return found


@dataclass
class Subscriber:
    """A calendar program: what it keeps after each answer, in whatever order answers come."""

    kept: dict[str, Seen] = field(default_factory=dict)
    tag: str | None = None
    answers: list[str] = field(default_factory=list)

    def poll(self, service: Service, path: str, *, asks_plainly: bool, compressed: bool) -> None:
        """Ask once, and keep what is new."""
        answer = ask(service, path, None if asks_plainly else self.tag, compressed=compressed)
        assert answer.status_code in (200, 304), answer.text
        self.tag = answer.headers["etag"]
        if answer.status_code == 200:
            self.take(answer.text)
            self.answers.append(answer.text)

    def take(self, text: str) -> None:
        """Keep of each event the newest."""
        for seen in by_icalendar(text):
            known = self.kept.get(seen.uid, seen)
            if (seen.sequence, seen.stamp) == (known.sequence, known.stamp):
                assert seen == known, "one and the same version says two things"
            if (seen.sequence, seen.stamp) >= (known.sequence, known.stamp):
                self.kept[seen.uid] = seen

    @property
    def nights(self) -> dict[str, Seen]:
        """What it shows."""
        return {uid: seen for uid, seen in self.kept.items() if seen.status != "CANCELLED"}


@dataclass
class Auditor:
    """Holds every state of a feed against the one before."""

    service: Service
    scenario: str
    bodies: dict[str, bytes] = field(default_factory=dict)
    tag: str | None = None
    events: dict[str, str] = field(default_factory=dict)
    versions: dict[str, Seen] = field(default_factory=dict)
    uids: dict[str, str] = field(default_factory=dict)
    items: dict[str, Any] = field(default_factory=dict)
    unchanged: int = 0

    def look(self, path: str) -> None:
        """Look at the feed as it stands."""
        plain = ask(self.service, path)
        text, tag = plain.text, plain.headers["etag"]
        content_lines(plain.content)
        self._is_304_only_if_nothing_changed(path, tag, plain.content)
        packed = ask(self.service, path, compressed=True)
        assert packed.headers["content-encoding"] == "gzip"
        assert packed.content == plain.content
        assert packed.headers["etag"] == tag[:-1] + '-gzip"'
        items = {
            one["evening"]: one
            for one in self.service.get(f"{self.scenario}/calendar/nights").json()["items"]
        }
        if tag != self.tag:
            self._events_only_move_on(events_in(text), {seen.uid: seen for seen in by_icalendar(text)}, items)
        else:
            assert items == self.items, "a night changed, and its feed did not"
        self.tag, self.items = tag, items

    def _is_304_only_if_nothing_changed(self, path: str, tag: str, body: bytes) -> None:
        assert self.bodies.setdefault(tag, body) == body, "one tag for two texts"
        if self.tag is None:
            return
        again = ask(self.service, path, self.tag)
        same = self.bodies[self.tag] == body
        assert again.status_code == (304 if same else 200)
        assert (self.tag == tag) == same, "two tags for one text"
        assert again.content == (b"" if same else body)

    def _events_only_move_on(
        self, events: dict[str, str], versions: dict[str, Seen], items: dict[str, Any]
    ) -> None:
        for evening, item in items.items():
            uid = item["uid"]
            assert self.uids.setdefault(evening, uid) == uid, "another uid for an evening"
            if item["state"] == "planned":
                assert (uid in versions, versions[uid].status != "CANCELLED") == (True, True)
            if self.items.get(evening) == item and uid in events:
                assert events[uid] == self.events[uid], "the bytes of an unchanged night"
                self.unchanged += 1
        for uid, seen in versions.items():
            before = self.versions.get(uid, seen)
            assert (seen.sequence > before.sequence) == (seen.stamp > before.stamp)
            assert seen.sequence >= before.sequence
            assert seen.stamp == seen.modified >= before.stamp
            if uid in self.events and seen.sequence == before.sequence:
                assert events[uid] == self.events[uid]
        assert len(set(self.uids.values())) == len(self.uids)
        self.versions |= versions
        self.events = self.events | events
