"""Duskwright turns a wish-list into a year of nights.

This is the door of the library: everything a caller needs is here, and nothing heavy is loaded before
it is asked for.

>>> import scheduler
>>> scheduler.Barlow(factor=2.0)
Barlow(factor=2.0)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .ahead import Ahead, ahead_of, lived_from_json, lived_to_json, with_odds, years_lived
    from .answers import answer_to_json, plain_of
    from .check import breaches_of, judge
    from .diary import diary_of
    from .differences import differences_of
    from .domain import *  # noqa: F403
    from .errors import (
        Cancelled,
        CannotWrite,
        DuskwrightError,
        Fault,
        InvalidValue,
        OutsideEphemeris,
        PlanRejected,
        ScenarioFaults,
        UnknownName,
        UnreadablePlan,
    )
    from .explain import season_prices, what_if, why_not, why_then
    from .export import plan_from_json, plan_to_json, write_plan
    from .notices import notices_of
    from .pictures import sky_strip, standalone, summaries_of, targets_picture, year_picture
    from .planets import planet_seasons_of
    from .practice import briefing_of
    from .reading import faults_of, read_scenario, read_scenario_texts
    from .replanning import replan
    from .scenario import joined_wish_lists
    from .simulation import YEARS_A_BATCH
    from .skydates import sky_dates_of
    from .up import overview_of
    from .weather import evening_odds_of, learned_odds_of, weather_report_of
    from .year import plan_year

_HOMES = {
    "ahead": ("Ahead", "ahead_of", "lived_from_json", "lived_to_json", "with_odds", "years_lived"),
    "answers": ("answer_to_json", "plain_of"),
    "check": ("breaches_of", "judge"),
    "diary": ("diary_of",),
    "differences": ("differences_of",),
    "errors": (
        "Cancelled", "CannotWrite", "DuskwrightError", "Fault", "InvalidValue", "OutsideEphemeris",
        "PlanRejected", "ScenarioFaults", "UnknownName", "UnreadablePlan",
    ),
    "explain": ("season_prices", "what_if", "why_not", "why_then"),
    "export": ("plan_from_json", "plan_to_json", "write_plan"),
    "notices": ("notices_of",),
    "pictures": ("sky_strip", "standalone", "summaries_of", "targets_picture", "year_picture"),
    "planets": ("planet_seasons_of",),
    "practice": ("briefing_of",),
    "replanning": ("replan",),
    "scenario": ("joined_wish_lists",),
    "reading": ("faults_of", "read_scenario", "read_scenario_texts"),
    "simulation": ("YEARS_A_BATCH",),
    "skydates": ("sky_dates_of",),
    "up": ("overview_of",),
    "weather": ("evening_odds_of", "learned_odds_of", "weather_report_of"),
    "year": ("plan_year",),
}  # fmt: skip
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "YEARS_A_BATCH", "Ahead", "Cancelled", "CannotWrite", "DuskwrightError", "Fault", "InvalidValue",
    "OutsideEphemeris", "PlanRejected", "ScenarioFaults", "UnknownName", "UnreadablePlan", "ahead_of",
    "answer_to_json", "breaches_of", "briefing_of", "diary_of", "differences_of", "evening_odds_of",
    "faults_of", "joined_wish_lists", "judge", "learned_odds_of", "lived_from_json", "lived_to_json",
    "notices_of", "overview_of", "plain_of", "plan_from_json", "plan_to_json", "plan_year",
    "planet_seasons_of", "read_scenario", "read_scenario_texts", "replan", "season_prices",
    "sky_dates_of", "sky_strip", "standalone", "summaries_of", "targets_picture",
    "weather_report_of", "what_if", "why_not", "why_then", "with_odds", "write_plan", "year_picture",
    "years_lived",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    home = _HOME_OF.get(name)
    if home:
        return getattr(import_module(f".{home}", __name__), name)
    nouns = import_module(".domain", __name__)
    if name in nouns.__all__:
        return getattr(nouns, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*__all__, *import_module(".domain", __name__).__all__})
