"""The years ahead of a plan: lived through in parts, here or elsewhere, and the odds they tell together.

Making a plan's season ready and fitting its prices takes seconds. So whoever lives through several parts of
the same plan keeps its `Ahead`; it can be pickled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from hashlib import sha256
from itertools import pairwise
from typing import TYPE_CHECKING

from .assignment.problem import Problem
from .check import judge
from .domain import (
    Cancel,
    LivedYears,
    Odds,
    Plan,
    Report,
    Scenario,
    ignore_progress,
    never_cancelled,
)
from .domain.checks import holds, whole
from .errors import InvalidValue
from .expectation import odds_of, policy_of, told_of, weather_season_of, years_ahead
from .export import plan_to_json
from .following import NAME, Following
from .placed import announced_in, of_scenario, rows_of
from .ready import Ready, made_ready
from .simulation import YEARS_A_BATCH

if TYPE_CHECKING:
    from pydantic import TypeAdapter

MOST_YEARS = 100_000


@dataclass(frozen=True, eq=False)
class Ahead:
    """A plan and its season, ready to be lived through.

    Attributes
    ----------
    plan : Its own odds, if it has any, are left aside.
    ready : The season it was made of.
    """

    plan: Plan
    ready: Ready

    def lived(
        self, *, first: int = 0, years: int, seed: int = 0, workers: int = 1,
        report: Report = ignore_progress, cancel: Cancel = never_cancelled,
    ) -> LivedYears:  # fmt: skip
        """Return what years `first` to `first + years - 1` of a seed bring; see `years_lived`."""
        whole("first", first, 0, MOST_YEARS)
        whole("years", years, 1, MOST_YEARS)
        whole("seed", seed, 0, 2**31 - 1)
        whole("workers", workers, 1, 1024)
        holds("first", first, first % YEARS_A_BATCH == 0, f"a multiple of {YEARS_A_BATCH} years")
        if not self.ready.free:
            never = (None,) * len(self.plan.targets)
            return LivedYears(self.digest, NAME, seed, first, (never,) * years, (0,) * years)
        found = years_ahead(
            self._policy, years=years, seed=seed, first=first, workers=workers, report=report, cancel=cancel
        )
        return told_of(found, of=self.digest, seed=seed, first=first)

    def odds(self, parts: Sequence[LivedYears], *, seed: int = 0) -> Odds | None:
        """Return the odds that parts of the years ahead tell together; None where no night is free.

        Raises
        ------
        InvalidValue
            The parts are not of this plan and seed, or do not follow one another from year 0 on.
        """
        whole_of = _joined(parts, self.digest, seed)
        if not self.ready.free:
            return None
        scenario, free = self.ready.scenario, self.ready.free
        season = weather_season_of(self._problem, scenario.targets, free, scenario.clear_odds.persistence)
        return odds_of(whole_of, season, scenario.targets, free)

    def with_odds(self, parts: Sequence[LivedYears], *, seed: int = 0) -> Plan:
        """Return the plan with its odds, judged sound; see the function `with_odds`."""
        plan = replace(self.plan, odds=self.odds(parts, seed=seed))
        judge(plan, self.ready.shown_in(plan), kept=True)
        return plan

    def fitted(self) -> Ahead:
        """Return this with its prices fitted, so that copies sent to other processes need not fit them."""
        if self.ready.free:
            _ = self._policy
        return self

    @cached_property
    def digest(self) -> str:
        """Tells this plan and its weather from all others (SHA-256, in hexadecimal)."""
        bare = plan_to_json(replace(self.plan, odds=None))
        return sha256(f"{bare}{self.ready.scenario.clear_odds.persistence!r}".encode()).hexdigest()

    @cached_property
    def _problem(self) -> Problem:
        return self.ready.unpriced(announced_in(self.plan, self.ready))

    @cached_property
    def _policy(self) -> Following:
        """The plan's own policy; fitting its prices is what takes longest."""
        rows, _ = rows_of(self.plan, self.ready, self._problem)
        known = len(rows) == len(self.plan.visits)
        holds("plan", self.plan.scenario, known, "visits where their targets show this season")
        announced = announced_in(self.plan, self.ready)
        return policy_of(self._problem, rows, self.ready.scenario, self.ready.free, announced)


def ahead_of(plan: Plan, scenario: Scenario) -> Ahead:
    """Return a plan ready to be lived through.

    Parameters
    ----------
    plan, scenario : A plan, and the scenario it was made of.

    Raises
    ------
    InvalidValue
        The plan is not of this scenario.
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    """
    ready = made_ready(scenario)
    of_scenario(plan, ready)
    return Ahead(plan, ready)


def years_lived(
    plan: Plan, scenario: Scenario, *, first: int = 0, years: int, seed: int = 0,
    report: Report = ignore_progress, cancel: Cancel = never_cancelled,
) -> LivedYears:  # fmt: skip
    """Return what a part of the years ahead brings, lived through by the plan's own policy.

    Parameters
    ----------
    plan, scenario : A plan, and the scenario it was made of.
    first : The first year, a multiple of `YEARS_A_BATCH`: only then are all parts together, byte for byte,
        what `plan_year` would have lived through at once.
    years : How many; any number for the last part, a multiple of `YEARS_A_BATCH` for all before it.
    seed : Draws them; `plan_year` takes its own.
    report, cancel : Told how far the work is; asked whether it should stop.

    Raises
    ------
    InvalidValue
        The plan is not of this scenario, or `first`, `years` or `seed` is out of range.
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    Cancelled
        `cancel` was set.
    """
    return ahead_of(plan, scenario).lived(first=first, years=years, seed=seed, report=report, cancel=cancel)


def with_odds(plan: Plan, scenario: Scenario, parts: Sequence[LivedYears], *, seed: int = 0) -> Plan:
    """Return the plan with the odds that all parts of the years ahead tell together, judged sound.

    Parameters
    ----------
    plan, scenario : A plan, and the scenario it was made of.
    parts : In any order; together they begin with year 0 and leave none out.
    seed : Of all of them.

    Raises
    ------
    InvalidValue
        The plan is not of this scenario; or the parts are not of this plan, scenario and seed, leave years
        out, or hold some twice.
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    PlanRejected
        The judge found a broken rule: a fault in this program.
    """
    return ahead_of(plan, scenario).with_odds(parts, seed=seed)


def lived_to_json(lived: LivedYears) -> str:
    """Return lived years as JSON; `lived_from_json` reads them back equal."""
    return _adapter().dump_json(lived).decode()


def lived_from_json(text: str) -> LivedYears:
    """Return the lived years that `lived_to_json` wrote.

    Raises
    ------
    InvalidValue
        The text holds none.
    """
    from pydantic import ValidationError  # late: the command line must start quickly

    try:
        return _adapter().validate_json(text)
    except ValidationError as fault:
        raise InvalidValue("lived years", text[:40], "JSON that lived_to_json wrote") from fault


def _adapter() -> TypeAdapter[LivedYears]:
    from pydantic import TypeAdapter

    return TypeAdapter(LivedYears)


def _joined(parts: Sequence[LivedYears], of: str, seed: int) -> LivedYears:
    """Return the parts as one, or raise `InvalidValue` where they are none."""
    ordered = sorted(parts, key=lambda part: part.first)
    said = ", ".join(f"{part.first} to {part.end - 1}" for part in ordered) or "none"
    follow = all(before.end == after.first for before, after in pairwise(ordered))
    for right, expected in (
        (bool(ordered) and ordered[0].first == 0 and follow, "years from 0 on, each once"),
        ({part.of for part in ordered} == {of}, "years of this plan and scenario"),
        ({part.seed for part in ordered} == {seed}, f"years of seed {seed}"),
        ({part.policy for part in ordered} == {NAME}, f"years lived through by {NAME}"),
    ):
        holds("lived years", said, right, expected)
    return LivedYears(
        of, NAME, seed, 0, tuple(year for part in ordered for year in part.finished),
        tuple(count for part in ordered for count in part.outings),
    )  # fmt: skip
