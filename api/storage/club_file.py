"""A whole club as one JSON file: its shape, and everything that must hold in it.

The file is ASCII and has one way to say each thing: times are UTC as in "2026-09-12T20:00:00+00:00", files
are `{"text": ...}` where they are UTF-8 without NUL and `{"base64": ...}` elsewhere, things of one sort stand
from the oldest to the newest. So the same club always gives the same bytes. Keys, unfinished jobs
and members' own calendars are left out, and the file says so.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from hashlib import sha256
from typing import Any, NoReturn

from pydantic import ValidationError

from ..errors import UnreadableClub
from .club_shape import ClubFile, FeedPart, ScenarioPart
from .told import Shows

FORMAT, VERSION = "duskwright-club", 3
LEFT_OUT = (
    "keys, whose secrets nobody keeps; jobs that had not ended; collections on calendar servers, whose "
    "passwords are sealed; what members' own calendars tell"
)


def club_file_of(text: str) -> ClubFile:
    """Return what a club's file holds, everything in it checked.

    Raises
    ------
    UnreadableClub
        At the first part that is not as it must be.
    """
    try:
        read = json.loads(text, object_pairs_hook=_object, parse_float=_finite, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise UnreadableClub("the file", f"JSON, each member of an object once ({error})") from error
    if isinstance(read, dict) and read.get("format") == FORMAT:
        for number, brought in ((1, _of_first_version), (2, _of_second_version)):
            if type(read.get("version")) is int and read["version"] == number:  # not True, which equals 1
                read = brought(read)
        if type(read.get("version")) is not int or read["version"] != VERSION:
            raise UnreadableClub("version", f"1 to {VERSION}, all that this Duskwright reads")
    try:
        club = ClubFile.model_validate(read)
    except ValidationError as error:
        raise _plainly(error) from error
    _check(club)
    return club


def _of_first_version(read: dict[str, Any]) -> dict[str, Any]:
    """Return a file of the first version, whose calendars had no nights, as one of the second."""
    scenarios = read.get("scenarios")
    if not isinstance(scenarios, list):
        return read
    fresh = {"follows": False, "announce_weeks": 0, "entries": []}
    calendars = [one["calendar"] for one in scenarios if isinstance(one, dict)
                 and isinstance(one.get("calendar"), dict)]  # fmt: skip
    if "feeds" in read or any(one.keys() & fresh.keys() for one in calendars):
        raise UnreadableClub("version", "2, since what stands here came with it")
    told = [
        one | {"calendar": one["calendar"] | fresh}
        if isinstance(one, dict) and isinstance(one.get("calendar"), dict)
        else one
        for one in scenarios
    ]
    return {**read, "version": 2, "scenarios": told, "feeds": []}


def _of_second_version(read: dict[str, Any]) -> dict[str, Any]:
    """Return a file of the second version, whose log held no sky and no keys, as one of the third."""
    fresh = {"sky_brightness": None, "key": None}

    def told(scenario: Any) -> Any:
        if not isinstance(scenario, dict) or not isinstance(scenario.get("outcomes"), list):
            return scenario
        lines = [one for one in scenario["outcomes"] if isinstance(one, dict)]
        if any(one.keys() & fresh.keys() for one in lines):
            raise UnreadableClub("version", f"{VERSION}, since what stands here came with it")
        return scenario | {
            "outcomes": [one | fresh if isinstance(one, dict) else one for one in scenario["outcomes"]]
        }

    scenarios = read.get("scenarios")
    if isinstance(scenarios, list):
        scenarios = [told(one) for one in scenarios]
    return {**read, "version": 3, **({} if scenarios is None else {"scenarios": scenarios})}


def _object(members: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(members)
    if len(found) < len(members):
        raise ValueError("a member is given twice")
    return found


def _finite(digits: str) -> float:
    number = float(digits)
    if not math.isfinite(number):
        raise ValueError(f"{digits[:20]} is too large")
    return number


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def _plainly(error: ValidationError) -> UnreadableClub:
    first = error.errors(include_url=False)[0]
    where = "/".join(str(step) for step in first["loc"]) or "the file"
    told = {"missing": "a member of this name", "extra_forbidden": "no member of this name",
            "string_pattern_mismatch": "20 hexadecimal digits"}  # fmt: skip
    said = first["msg"].removeprefix("Input should be ").removeprefix("Value error, ")
    return UnreadableClub(where, told.get(first["type"], said.replace("String should have", "a text of")))


def _check(club: ClubFile) -> None:
    """Check that the parts fit together."""
    for noun in ("members", "sites", "telescopes"):
        _once((one.id for one in getattr(club, noun)), noun, "id")
        _once((one.name for one in getattr(club, noun)), noun, "name")
    _once((one.id for one in club.scenarios), "scenarios", "id")
    _once((one.id for one in club.jobs), "jobs", "id")
    _once((one.key for one in club.jobs if one.key is not None), "jobs", "key")
    _once((one.id for each in club.scenarios for one in each.plans), "plans", "id")
    _once((each.calendar.id for each in club.scenarios if each.calendar), "calendars", "id")
    _once((one.id for one in club.feeds), "feeds", "id")
    _once((one.secret for one in club.feeds), "feeds", "secret")
    shown = [one.calendar.entries for one in club.scenarios if one.calendar]
    _once((entry.uid for entries in shown for entry in entries), "entries", "uid")
    for number, feed in enumerate(club.feeds):
        _check_feed(f"feeds/{number}", feed, {one.id for one in club.scenarios})
    for number, scenario in enumerate(club.scenarios):
        _check_scenario(f"scenarios/{number}", scenario)
    kept = {scenario.id: scenario for scenario in club.scenarios}
    for number, job in enumerate(club.jobs):
        where = f"jobs/{number}"
        _expect(job.scenario in kept, f"{where}/scenario", "the id of a scenario in this file")
        _check_answer(where, job.revision, job.outcomes, kept[job.scenario])
        plans = {None, *(plan.id for plan in kept[job.scenario].plans)}
        _expect(job.plan in plans, f"{where}/plan", "null or the id of a plan of its scenario")


def _check_scenario(where: str, scenario: ScenarioPart) -> None:
    _in_order((one.revision for one in scenario.revisions), f"{where}/revisions")
    _expect(
        len(scenario.revisions) == scenario.revision, f"{where}/revisions", "every revision of the scenario"
    )
    _in_order((one.line for one in scenario.outcomes), f"{where}/outcomes")
    _once((one.key for one in scenario.outcomes if one.key is not None), f"{where}/outcomes", "key")
    _once((plan.version for plan in scenario.plans), f"{where}/plans", "version")
    plans = {plan.id for plan in scenario.plans}
    for number, plan in enumerate(scenario.plans):
        here = f"{where}/plans/{number}"
        _check_answer(here, plan.revision, plan.outcomes, scenario)
        _expect(plan.previous in {None, *plans} - {plan.id}, f"{here}/previous",
                "null or the id of another plan of its scenario")  # fmt: skip
        _once((file.name for file in plan.files), f"{here}/files", "name")
        for index, file in enumerate(plan.files):
            digest = sha256(file.text.encode()).hexdigest()
            _expect(file.digest == digest, f"{here}/files/{index}/digest", "the SHA-256 of its text")
    if scenario.calendar is not None:
        entries = scenario.calendar.entries
        _once((entry.evening for entry in entries), f"{where}/calendar/entries", "evening")
        for number, entry in enumerate(entries):
            _expect(entry.told["start"] < entry.told["end"], f"{where}/calendar/entries/{number}/told/end",
                    "a time after its start")  # fmt: skip
        _expect(scenario.calendar.plan in plans, f"{where}/calendar/plan", "the id of a plan of its scenario")


def _check_feed(where: str, feed: FeedPart, scenarios: set[str]) -> None:
    needed = {Shows.OBSERVER.value: "observer"}.get(feed.shows)
    needed = "scenario" if feed.shows in {Shows.SCENARIO.value, Shows.SKY.value} else needed
    for member in ("scenario", "observer"):
        given = getattr(feed, member) is not None
        _expect(given == (member == needed), f"{where}/{member}", f"one exactly where `shows` is {member}")
    _expect(feed.scenario in {None, *scenarios}, f"{where}/scenario", "the id of a scenario in this file")


def _check_answer(where: str, revision: int, outcomes: int, scenario: ScenarioPart) -> None:
    _expect(revision <= scenario.revision, f"{where}/revision", "a revision of its scenario")
    _expect(
        outcomes <= len(scenario.outcomes), f"{where}/outcomes", "no more lines than its scenario's log has"
    )


def _expect(holds: bool, where: str, expected: str) -> None:
    if not holds:
        raise UnreadableClub(where, expected)


def _once(values: Iterable[object], where: str, member: str) -> None:
    seen: set[object] = set()
    for value in values:
        _expect(value not in seen, where, f"each {member} once; {value!r} comes twice")
        seen.add(value)


def _in_order(values: Iterable[int], where: str) -> None:
    for expected, value in enumerate(values, start=1):
        _expect(value == expected, where, f"numbers from 1 on without a gap; {value} stands for {expected}")


def written(members: Mapping[str, Any]) -> str:
    """Return a club's file as text."""
    head = {"format": FORMAT, "version": VERSION, "left_out": LEFT_OUT}
    return json.dumps({**head, **members}, indent=1, allow_nan=False) + "\n"
