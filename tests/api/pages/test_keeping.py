"""What the service tells a browser to keep, and how the browser knows that it is still so."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from api.auth import made_key
from api.storage import NewKey, Role

from ... import small_plan
from .desk import FRIDAY, Desk, a_desk

SECOND = "2027-01-15"
NOON, LATE = "2027-01-08T12:00", "2027-01-08T22:00"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with a_desk(tmp_path) as opened:
        opened.at(NOON)
        yield opened


def told(desk: Desk) -> dict[str, Any]:
    answer: dict[str, Any] = desk.get(f"/keep/{desk.scenario}").json()
    return answer


def test_nights_that_come_are_told_in_their_order_until_they_are_over_or_logged(desk: Desk) -> None:
    def coming() -> list[tuple[str, str]]:
        return [
            (one["page"].rpartition("/")[2], str(datetime.fromtimestamp(one["over"], small_plan.SITE.local)))
            for one in told(desk)["coming"]
        ]

    friday, second = (FRIDAY, "2027-01-09 12:00:00+00:00"), (SECOND, "2027-01-16 12:00:00+00:00")
    assert coming() == [friday, second]
    desk.at("2027-01-09T11:59")
    assert coming() == [friday, second]
    desk.save(went="clear")
    assert coming() == [second]
    desk.at("2027-01-16T12:00")
    assert coming() == []


def logged(desk: Desk) -> None:
    desk.save("2027-01-01", went="clear")


def corrected(desk: Desk) -> None:
    desk.save("2027-01-01", key="again", over="1", went="clear", notes="an owl")


def planned(desk: Desk) -> None:
    desk.keep_plan(replace(small_plan.plan(), version=2))


def revised(desk: Desk) -> None:
    path = f"/scenarios/{desk.scenario}"
    kept = desk.service.get(f"{path}/scenario.toml")
    changed = kept.content.replace(b'"A January"', b'"The January"')
    answer = desk.service.ask("PUT", f"{path}/scenario.toml", content=changed,
                              headers={"Content-Type": "application/toml"} | match(kept))  # fmt: skip
    assert answer.status_code < 300, answer.text


def match(kept: Any) -> dict[str, str]:
    return {"If-Match": kept.headers["etag"]}


def dusk_came(desk: Desk) -> None:
    desk.at(LATE)


def noon_came(desk: Desk) -> None:
    desk.at("2027-01-09T12:00")


@pytest.mark.parametrize("happened", [logged, planned, revised, dusk_came, noon_came])
def test_the_mark_is_another_once_pages_show_something_else(
    desk: Desk, happened: Callable[[Desk], None]
) -> None:
    before = told(desk)["mark"]
    desk.at("2027-01-08T13:00")
    assert told(desk)["mark"] == before
    happened(desk)
    assert told(desk)["mark"] != before


def test_a_correction_makes_the_mark_another_too(desk: Desk) -> None:
    logged(desk)
    before = told(desk)["mark"]
    corrected(desk)
    assert told(desk)["mark"] != before


def test_the_mark_is_another_for_another_role(tmp_path: Path) -> None:
    with a_desk(tmp_path, keys="required") as desk:
        club = desk.service.club.rpartition("/")[2]
        del desk.service.client.headers["Authorization"]
        marks = set()
        for role in (Role.READER, Role.MEMBER, Role.PLANNER):
            desk.headers = {
                "Authorization": f"Bearer {made_key(desk.storage, NewKey(club, role, 'a phone'))[1]}"
            }
            marks.add(told(desk)["mark"])
        assert len(marks) == 3
