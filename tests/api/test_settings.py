from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from api.settings import Settings
from scheduler.errors import InvalidValue


def test_an_empty_environment_gives_the_defaults() -> None:
    assert Settings.from_environment({"PATH": "/bin", "OTHER_PORT": "1"}) == Settings()


def test_every_setting_can_be_made_in_the_environment() -> None:
    wanted = Settings("::1", 9000, Path("club.sqlite3"), 2, 7, 2000, 60)
    environment = {f"DUSKWRIGHT_{f.name.upper()}": str(getattr(wanted, f.name)) for f in fields(Settings)}
    assert Settings.from_environment(environment) == wanted


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "example.org", "", "127.0.0.1.example.org"])
def test_a_host_others_can_reach_is_refused_and_told_why(host: str) -> None:
    with pytest.raises(InvalidValue, match=r"host: read .* expected a loopback address .* without keys"):
        Settings(host=host)


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.8.8", "::1", "localhost"])
def test_a_loopback_host_is_accepted(host: str) -> None:
    assert Settings(host=host).host == host


@pytest.mark.parametrize(
    "wrong",
    [
        {"port": -1},
        {"port": 65536},
        {"workers": 0},
        {"waiting_jobs": 0},
        {"body_bytes": 10},
        {"plan_seconds": 0},
    ],
)
def test_a_number_out_of_range_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(InvalidValue, match=next(iter(wrong))):
        Settings(**wrong)


def test_a_word_for_a_number_names_the_variable() -> None:
    with pytest.raises(InvalidValue, match="DUSKWRIGHT_PORT: read 'eighty'"):
        Settings.from_environment({"DUSKWRIGHT_PORT": "eighty"})
