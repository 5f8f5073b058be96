"""When a season without a start of its own begins: on the day somebody asked for its plan."""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from scheduler.scenario.text import decoded


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
