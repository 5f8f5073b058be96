"""Feeds of the sky's own dates: worked out by a child process, kept in memory, told as events.

Nothing of them is stored: the same scenario tells the same dates, to the byte, in every process. A date that
is told otherwise is another event, so that none ever has to be changed.

References
----------
B. Desruisseaux (ed.), "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545,
2009, sections 3.3.4 and 3.6.1 (whole days) and 3.8.2.7 (TRANSP). P. Leach, M. Mealling, R. Salz, "A
Universally Unique IDentifier (UUID) URN Namespace", RFC 4122, 2005, section 4.3 (names from content).
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from threading import Lock
from typing import Any
from uuid import UUID, uuid5

from icalendar import Event

from .ics import alarm_of, clean, text_of
from .seasons import begins_on
from .storage import ScenarioRecord, Storage

QUESTION = "dates"
MOST_KEPT = 256
"""Scenarios whose dates are kept in memory, some 20 kB each."""
_NAMES = UUID("7bdf23b4-2a7b-48a5-8975-04d310dbf9ef")


@dataclass(frozen=True, slots=True)
class SkyTold:
    """The sky's dates of one revision of a scenario.

    Attributes
    ----------
    begins : The day its season begins if the scenario names no start; None where it names one.
    digest : SHA-256 of all that events tell of them.
    """

    scenario: str
    created: datetime
    begins: date | None
    dates: tuple[Mapping[str, Any], ...]
    digest: str

    def events(self, alarm_min: int | None) -> Iterator[str]:
        """Yield each date as an event, as it stands in a feed."""
        for one in self.dates:
            event: str = self._event(one, alarm_min).to_ical().decode()
            yield event

    def _event(self, one: Mapping[str, Any], alarm_min: int | None) -> Event:
        event = Event()
        event.add("uid", str(uuid5(_NAMES, f"{self.scenario} {_plain(one)}")))
        event.add("sequence", 0)
        event.add("dtstamp", self.created)
        event.add("last-modified", self.created)
        if one["whole_day"]:
            day = date.fromisoformat(one["day"])
            event.add("dtstart", day)
            event.add("dtend", day + timedelta(days=1))
        else:
            event.add("dtstart", datetime.fromisoformat(one["start"]).astimezone(UTC))
            event.add("dtend", datetime.fromisoformat(one["end"]).astimezone(UTC))
        event.add("summary", text_of(one["title"]))
        event.add("description", text_of("\n".join(one["lines"])))
        event.add("categories", [clean(word) for word in one["categories"]])
        event.add("transp", "TRANSPARENT")
        if alarm_min is not None:
            event.add_component(alarm_of(one["title"], alarm_min))
        return event


class SkyPages:
    """Knows the sky's dates of scenarios, each revision's worked out once.

    Parameters
    ----------
    storage : Where scenarios are kept.
    ask : Answers a question about the sky; takes a second or two.
    clock : Tells the time, for seasons that begin today.
    """

    def __init__(
        self, storage: Storage, ask: Callable[[str, dict[str, Any]], str],
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:  # fmt: skip
        self._storage, self._ask, self._clock = storage, ask, clock
        self._kept: OrderedDict[tuple[str, int], SkyTold] = OrderedDict()
        self._lock = Lock()

    def told_of(self, scenario: str) -> SkyTold:
        """Return the dates of a scenario as it is now.

        Raises
        ------
        NoSuch
            If there is no such scenario.
        NotReady
            If too many ask for the sky at once.
        """
        record = self._storage.scenarios.get(scenario)
        with self._lock:
            known = self._kept.get((scenario, record.revision))
        if known is not None and known.begins is None:
            return known
        files, revision = self._storage.scenarios.files(scenario, record.revision)
        begins = begins_on(files.scenario_toml, self._clock())
        if known is None or known.begins != begins:
            given = {
                "name": record.name, "files": files, "log": b"", "at": None,
                "today": begins or record.season_start,
            }  # fmt: skip
            known = _told(record, begins, json.loads(self._ask(QUESTION, given))["dates"])
            self._keep((scenario, revision), known)
        return known

    def _keep(self, key: tuple[str, int], told: SkyTold) -> None:
        with self._lock:
            self._kept[key] = told
            self._kept.move_to_end(key)
            if len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)


def _told(record: ScenarioRecord, begins: date | None, dates: list[Mapping[str, Any]]) -> SkyTold:
    created = record.created.astimezone(UTC).replace(microsecond=0)
    digest = sha256(f"{record.id} {created.isoformat()} {_plain(dates)}".encode()).hexdigest()
    return SkyTold(record.id, created, begins, tuple(dates), digest)


def _plain(told: object) -> str:
    return json.dumps(told, sort_keys=True, ensure_ascii=False)
