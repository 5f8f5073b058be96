"""A plan on its way into its scenario's calendar."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from .seasons import today_at
from .storage import Publication, ScenarioFiles
from .toml_parts import announced_in


def publication_of(
    plan: str, shown: str | None, notices: Mapping[str, Any], files: ScenarioFiles, now: datetime
) -> Publication:
    """Return a plan as its scenario's calendar is to show it.

    Parameters
    ----------
    plan, shown : Its id, and that of the plan the calendar shows; None where it shows none.
    notices : As `scheduler.notices_of` tells them, read from JSON.
    files : The scenario's as they stand: they say what is announced, and by whose date.
    """
    return Publication(
        plan, shown,
        {one["evening"]: {name: value for name, value in one.items() if name != "evening"}
         for one in notices["nights"]},
        date.fromisoformat(notices["open_from"]), notices["amends"], announced_in(files.scenario_toml),
        today_at(files.scenario_toml, now),
    )  # fmt: skip
