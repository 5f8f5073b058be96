from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from api.door import scheduler_door
from api.errors import NoSuch
from api.shelf import Shelf
from api.storage import Storage
from tests.small_plan import plan

from .pages.stored import kept, stored


@pytest.fixture
def storage(tmp_path: Path) -> Iterator[Storage]:
    made = Storage(tmp_path / "kept.sqlite3")
    yield made
    made.close()


def test_a_plan_is_read_once_and_stays_equal(storage: Storage) -> None:
    shelf, of = Shelf(storage, scheduler_door()), stored(storage, plan())
    first = shelf.plan(of.plan)
    assert first == plan()
    assert shelf.plan(of.plan) is first


def test_the_one_asked_for_longest_ago_goes_first(storage: Storage) -> None:
    shelf, of = Shelf(storage, scheduler_door(), most=2), stored(storage, plan())
    others = [kept(storage, of.scenario, replace(plan(), version=version)) for version in (2, 3)]
    first, second = shelf.plan(of.plan), shelf.plan(others[0])
    assert shelf.plan(of.plan) is first
    shelf.plan(others[1])
    assert shelf.plan(of.plan) is first
    assert shelf.plan(others[0]) is not second


def test_a_plan_nobody_keeps_is_told_so(storage: Storage) -> None:
    with pytest.raises(NoSuch):
        Shelf(storage, scheduler_door()).plan("0" * 20)
