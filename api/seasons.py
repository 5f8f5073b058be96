"""When a season without a start of its own begins: on the day somebody asked for its plan."""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from scheduler.scenario.text import decoded


def begins_on(scenario_toml: bytes, moment: datetime) -> date | None:
    r"""Return the day a season begins if it names no start of its own; None where it names one.

    Examples
    --------
    >>> late = datetime(2027, 1, 8, 23, 30, tzinfo=UTC)
    >>> begins_on(b'[season]\nnights = 30', late), begins_on(b'[season]\nstart = 2027-01-01', late)
    (datetime.date(2027, 1, 8), None)
    """
    try:
        named = "start" in tomllib.loads(decoded(scenario_toml) or "")["season"]
    except (ValueError, LookupError, TypeError):
        named = False
    return None if named else today_at(scenario_toml, moment)


def today_at(scenario_toml: bytes, moment: datetime) -> date:
    r"""Return the date at a scenario's site; in UTC where the file names no zone.

    Examples
    --------
    >>> late = datetime(2027, 1, 8, 23, 30, tzinfo=UTC)
    >>> today_at(b'[site]\nzone = "Europe/Berlin"', late)
    datetime.date(2027, 1, 9)
    """
    try:
        zone = ZoneInfo(tomllib.loads(decoded(scenario_toml) or "")["site"]["zone"])
    except (ValueError, LookupError, TypeError):  # whoever reads the file next tells its faults
        return moment.astimezone(UTC).date()
    return moment.astimezone(zone).date()
