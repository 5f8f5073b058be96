"""The real scheduler's door; its heavy libraries are imported when it is first used."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any

from scheduler.domain import Cancel, Plan, Report, Scenario
from scheduler.errors import InvalidValue

from .amending import amendment_of
from .ports import (
    CHANGES_CSV,
    MOON_CSV,
    NIGHTS_CSV,
    ODDS_CSV,
    PLAN_JSON,
    SCHEDULE_CSV,
    UNPLACED_CSV,
    Door,
)
from .storage import ScenarioFiles


def scheduler_door() -> Door:
    """Return the real scheduler's door; its heavy libraries are imported when it is first used."""
    return Door(
        _read_scenario, _plan_year, _replan, _write_plan, _read_plan, _Ahead,
        {"why": _why, "prices": _prices, "what-if": _what_if}, _targets_json, _joined_wish_lists,
        _differences_json, _notices_json,
        {
            "up": _up, "planets": _planets, "moon": _moon, "moon.csv": _moon_csv, "dates": _dates,
            "weather": _weather,
        },
    )  # fmt: skip


def _read_scenario(
    name: str, files: ScenarioFiles, outcomes_csv: bytes = b"", today: date | None = None
) -> Scenario:
    import scheduler

    scenario: Scenario = scheduler.read_scenario_texts(
        name, files.scenario_toml, files.wish_list_csv, outcomes_csv, files.forecast_csv, today=today
    )
    return scenario


def _plan_year(
    scenario: Scenario, *, version: int, seed: int, seconds: float, years: int, report: Report,
    cancel: Cancel,
) -> Plan:  # fmt: skip
    import scheduler

    plan: Plan = scheduler.plan_year(
        scenario, version=version, seed=seed, seconds=seconds, years=years, report=report, cancel=cancel
    )
    return plan


def _replan(
    previous: Plan, scenario: Scenario, *, seed: int, seconds: float, years: int, report: Report,
    cancel: Cancel,
) -> Plan:  # fmt: skip
    import scheduler

    plan: Plan = scheduler.replan(
        previous, scenario, seed=seed, seconds=seconds, years=years, report=report, cancel=cancel
    )
    return plan


def _read_plan(text: str) -> Plan:
    import scheduler

    plan: Plan = scheduler.plan_from_json(text)
    return plan


class _Ahead:
    """What lies ahead of a plan, with weather years as JSON."""

    def __init__(self, plan: Plan, scenario: Scenario) -> None:
        import scheduler

        self._ahead = scheduler.ahead_of(plan, scenario)

    def lived(self, *, first: int, years: int, seed: int, report: Report, cancel: Cancel) -> str:
        import scheduler

        lived = self._ahead.lived(first=first, years=years, seed=seed, report=report, cancel=cancel)
        told: str = scheduler.lived_to_json(lived)
        return told

    def with_odds(self, shares: Sequence[str], *, seed: int) -> Plan:
        import scheduler

        plan: Plan = self._ahead.with_odds([scheduler.lived_from_json(one) for one in shares], seed=seed)
        return plan

    def odds(self, shares: Sequence[str], *, seed: int) -> str:
        import scheduler

        odds = self._ahead.odds([scheduler.lived_from_json(one) for one in shares], seed=seed)
        told: str = scheduler.answer_to_json(odds)
        return told


def _why(
    plan: Plan | None, scenario: Scenario, wish: Mapping[str, Any], report: Report, cancel: Cancel
) -> str:
    """Tell why a target is on its next night, or on the one asked about, and why visits of it are missing."""
    import scheduler

    if plan is None:
        raise InvalidValue("plan", None, "the plan to be explained")
    name, asked = wish["target"], wish.get("evening")
    evenings = sorted(visit.evening for visit in plan.visits if visit.target == name)
    missing = any(one.target == name for one in plan.unplaced)
    if missing:  # what was announced stands and has no other night, but what is missing can be told
        evenings = [one for one in evenings if one not in plan.announced]
    today = datetime.now(UTC).astimezone(plan.site.local).date()
    coming = [one for one in evenings if one >= today]
    on = date.fromisoformat(asked) if asked else next(iter(coming or evenings), None)
    then = lacking = None
    if asked or evenings or not missing:
        then = scheduler.why_then(plan, scenario, name, on, report=report, cancel=cancel)
    if missing and not asked:
        lacking = scheduler.why_not(plan, scenario, name, report=report, cancel=cancel)
    told = {"then": scheduler.plain_of(then), "not": scheduler.plain_of(lacking)}
    return json.dumps(told, ensure_ascii=False, allow_nan=False)


def _prices(
    plan: Plan | None, scenario: Scenario, wish: Mapping[str, Any], report: Report, cancel: Cancel
) -> str:
    import scheduler

    told: str = scheduler.answer_to_json(scheduler.season_prices(scenario, report=report, cancel=cancel))
    return told


def _what_if(
    plan: Plan | None, scenario: Scenario, wish: Mapping[str, Any], report: Report, cancel: Cancel
) -> str:
    import scheduler

    told: str = scheduler.answer_to_json(scheduler.what_if(
        scenario, amendment_of(wish), years=wish["years"], seed=wish["seed"], seconds=wish["seconds"],
        report=report, cancel=cancel,
    ))  # fmt: skip
    return told


def _write_plan(plan: Plan) -> Mapping[str, str]:
    from scheduler import export

    return {
        PLAN_JSON: export.plan_to_json(plan),
        SCHEDULE_CSV: export.schedule_csv(plan),
        NIGHTS_CSV: export.nights_csv(plan),
        UNPLACED_CSV: export.unplaced_csv(plan),
        MOON_CSV: export.moon_diary_csv(plan),
        ODDS_CSV: export.odds_csv(plan),
        CHANGES_CSV: export.changes_csv(plan),
    }


def _targets_json(scenario: Scenario) -> str:
    import scheduler

    told: str = scheduler.answer_to_json({"targets": scenario.targets})
    return told


def _joined_wish_lists(kept: bytes, added: bytes) -> bytes:
    import scheduler

    joined: bytes = scheduler.joined_wish_lists(kept, added)
    return joined


def _differences_json(earlier: str, later: str) -> str:
    import scheduler

    first, second = scheduler.plan_from_json(earlier), scheduler.plan_from_json(later)
    told: str = scheduler.answer_to_json(scheduler.differences_of(first, second))
    return told


def _notices_json(plan: str, shown: str | None) -> str:
    import scheduler

    earlier = None if shown is None else scheduler.plan_from_json(shown)
    told: str = scheduler.answer_to_json(scheduler.notices_of(scheduler.plan_from_json(plan), earlier))
    return told


def _up(scenario: Scenario, at: str | None) -> str:
    import scheduler
    from scheduler.up import moment_from

    try:
        moment = datetime.now(UTC) if at is None else moment_from(at, scenario.site)
    except InvalidValue as fault:
        raise InvalidValue("at", fault.value, fault.expected) from fault
    told: str = scheduler.answer_to_json(scheduler.overview_of(scenario, moment))
    return told


def _planets(scenario: Scenario, at: str | None) -> str:
    import scheduler

    told: str = scheduler.answer_to_json({"planets": scheduler.planet_seasons_of(scenario)})
    return told


def _moon(scenario: Scenario, at: str | None) -> str:
    import scheduler
    from scheduler.sky import sky_of

    nights = sky_of(scenario.site, scenario.season.evenings).nights
    told: str = scheduler.answer_to_json({"nights": scheduler.diary_of(nights, scenario.site)})
    return told


def _moon_csv(scenario: Scenario, at: str | None) -> str:
    from scheduler.diary import moon_csv
    from scheduler.sky import sky_of

    nights = sky_of(scenario.site, scenario.season.evenings).nights
    return moon_csv(nights, scenario.site)


def _dates(scenario: Scenario, at: str | None) -> str:
    import scheduler

    told: str = scheduler.answer_to_json({"dates": scheduler.sky_dates_of(scenario)})
    return told


def _weather(scenario: Scenario, at: str | None) -> str:
    import scheduler

    told: str = scheduler.answer_to_json(
        scheduler.weather_report_of(scenario.clear_odds, scenario.outcomes, scenario.forecast)
    )
    return told
