"""The deeds: heavy work by name, done in a child process, made from the scheduler's door.

What a deed is given holds the scenario as it was read (`name`, `files`, `log`), the plan it is about as text
(`plan`), when a season without a start begins (`today`; None: as the plan's), and what was wished.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from scheduler.domain import Cancel, Plan, Report, Scenario

from .door import scheduler_door
from .ports import PLAN_JSON, Ahead, Answer, Deed, Deeds, Door, SkyQuestion

Given = Mapping[str, Any]


def deeds_behind(door: Callable[[], Door] = scheduler_door) -> Deeds:
    """Return what makes the deeds in a child process.

    Parameters
    ----------
    door : Makes the door; can be pickled.
    """
    return partial(deeds_of, door)


def deeds_of(door: Callable[[], Door]) -> Mapping[str, Deed]:
    """Return every deed by its name."""
    opened = door()
    ahead = _Ahead(opened)
    answers = {name: partial(_answer, opened, answer) for name, answer in opened.answers.items()}
    sky = {name: partial(_sky, opened, question) for name, question in opened.sky.items()}
    return {
        **sky, "publish": partial(_publish, opened),
        **answers, "plan": partial(_plan, opened), "re-plan": partial(_replan, opened), "years": ahead.years,
        "write": partial(_write, opened, ahead), "odds": ahead.odds,
    }  # fmt: skip


def _plan(door: Door, given: Given, report: Report, cancel: Cancel) -> str:
    """Solve a scenario without odds; its version is given when it is kept."""
    plan = door.plan_year(
        _scenario(door, given), version=1, seed=given["seed"],
        seconds=given["seconds"], years=0, report=report, cancel=cancel,
    )  # fmt: skip
    return door.write_plan(plan)[PLAN_JSON]


def _replan(door: Door, given: Given, report: Report, cancel: Cancel) -> str:
    """Solve a scenario anew near the plan before, without odds."""
    plan = door.replan(
        door.read_plan(given["plan"]), _scenario(door, given), seed=given["seed"],
        seconds=given["seconds"], years=0, report=report, cancel=cancel,
    )  # fmt: skip
    return door.write_plan(plan)[PLAN_JSON]


def _write(door: Door, ahead: _Ahead, given: Given, report: Report, cancel: Cancel) -> str:
    """Return a plan as it is kept, with the odds its years tell, if any were lived through."""
    plan = replace(ahead.with_odds(given), version=given["version"])
    return json.dumps({
        "version": plan.version, "objective": plan.objective, "bound": plan.bound,
        "visits": len(plan.visits), "unplaced": len(plan.unplaced), "files": dict(door.write_plan(plan)),
    })  # fmt: skip


def _publish(door: Door, given: Given, report: Report, cancel: Cancel) -> str:
    """Return what members are told of a plan, held against the one `shown` so far, if any."""
    return door.notices_json(given["plan"], given.get("shown"))


def _answer(door: Door, answer: Answer, given: Given, report: Report, cancel: Cancel) -> str:
    plan = door.read_plan(given["plan"]) if "plan" in given else None
    return answer(plan, _scenario(door, given), given, report, cancel)


def _sky(door: Door, question: SkyQuestion, given: Given, report: Report, cancel: Cancel) -> str:
    return question(_scenario(door, given), given.get("at"))


def _scenario(door: Door, given: Given) -> Scenario:
    today = given["today"] or door.read_plan(given["plan"]).season.start
    return door.read_scenario(given["name"], given["files"], given["log"], today)


class _Ahead:
    """Lives through shares of years; the last plan made ready is kept, since shares come in numbers."""

    def __init__(self, door: Door) -> None:
        self._door = door
        self._last: tuple[object, Ahead] | None = None

    def years(self, given: Given, report: Report, cancel: Cancel) -> str:
        first, years, seed = given["first"], given["years"], given["seed"]
        return self._of(given).lived(first=first, years=years, seed=seed, report=report, cancel=cancel)

    def with_odds(self, given: Given) -> Plan:
        if not given["lived"]:
            return self._door.read_plan(given["plan"])
        return self._of(given).with_odds(given["lived"], seed=given["seed"])

    def odds(self, given: Given, report: Report, cancel: Cancel) -> str:
        """Return the odds of a kept plan after more years, or other ones."""
        return self._of(given).odds(given["lived"], seed=given["seed"])

    def _of(self, given: Given) -> Ahead:
        wanted = (given["name"], given["files"], given["log"], given["plan"])
        if self._last is None or self._last[0] != wanted:
            ahead = self._door.ahead_of(self._door.read_plan(given["plan"]), _scenario(self._door, given))
            self._last = wanted, ahead
        return self._last[1]
