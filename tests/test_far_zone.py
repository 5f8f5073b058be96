"""Nothing depends on the time zone of the machine; CI runs these once more in a far one."""

from __future__ import annotations

import os
import time
from datetime import date

import pytest

from scheduler.export import schedule_csv
from scheduler.year import plan_year
from tests.small_season import JUPITER, ORION, scenario

pytestmark = pytest.mark.far_zone

TOKYO_S, APIA_S = -9 * 3600, -13 * 3600


def test_the_zone_ci_asks_for_took_effect() -> None:
    if os.environ.get("DUSKWRIGHT_EXPECT_ZONE") == "Pacific/Apia":
        assert time.timezone == APIA_S
    else:
        assert os.environ.get("DUSKWRIGHT_EXPECT_ZONE") is None


def test_a_plan_is_the_same_wherever_the_machine_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    wished = scenario(ORION, JUPITER, start=date(2027, 3, 20), nights=12)
    here = schedule_csv(plan_year(wished, seconds=0.3))
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    time.tzset()
    try:
        assert time.timezone == TOKYO_S
        assert schedule_csv(plan_year(wished, seconds=0.3)) == here
    finally:
        monkeypatch.undo()
        time.tzset()
