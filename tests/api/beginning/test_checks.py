"""What looks sound to the reader of a scenario, and is not what was meant."""

from __future__ import annotations

import pytest

from api.beginning.checks import form_faults
from api.beginning.fields import typed_in
from api.beginning.lists import SAMPLE


def faults_of(**typed: str) -> dict[str, tuple[str, ...]]:
    return form_faults(typed_in({**SAMPLE, **typed}.items()))


def test_the_sample_has_none() -> None:
    assert faults_of() == {}


def test_each_bad_line_of_evenings_away_is_told_alone_with_its_remedy() -> None:
    away = "2027-01-05\n24.12.2026 - 2.1.2027\n2027-02-30\n2027-03-05 to 2027-03-01; in July\n30.2.2027"
    assert faults_of(away=away) == {"away": (
        "line 2, “24.12.2026 - 2.1.2027”: expected 2026-12-24 to 2027-01-02.",
        "line 3, “2027-02-30”: 30 February 2027 does not exist.",
        "line 4, “2027-03-05 to 2027-03-01”: expected a range that ends after it starts and spans less than "
        "800 days.",
        "line 4, “in July”: expected 2027-07-10, or 2027-07-10 to 2027-07-24.",
        "line 5, “30.2.2027”: 30 February 2027 does not exist.",
    )}  # fmt: skip


@pytest.mark.parametrize("away", ["", "2027-07-10 - 2027-07-24", "2027-07-10 to 2027-07-24, 2027-08-01"])
def test_sound_evenings_away_are_told_nothing_of(away: str) -> None:
    assert faults_of(away=away) == {}


@pytest.mark.parametrize(
    ("first", "second", "field", "words"),
    [("Fri, Sat", "Sat, Sun", "weekdays_2", "Sat stands in both"),
     ("Fri, Sat", "Fri, Sat", "weekdays_2", "Fri and Sat stand in both"),
     ("", "Sat", "weekdays_1", "none ticked means every day")],
)  # fmt: skip
def test_evenings_whose_hours_would_be_lost_are_told(first: str, second: str, field: str, words: str) -> None:
    """The planner goes by the first rule that has the day; see `Availability.rule_of`."""
    found = faults_of(weekdays_1=first, weekdays_2=second)
    assert set(found) == {field}
    assert found[field][0].startswith(words)


def test_other_evenings_without_days_are_all_the_others() -> None:
    assert faults_of(weekdays_1="Fri", weekdays_2="", from_2="20:00") == {}
    assert faults_of(weekdays_1="", weekdays_2="", from_2="", until_2="") == {}


@pytest.mark.parametrize("odds", ["1.3", "0,3", "0.3", "1.0"])
def test_odds_that_look_like_a_part_of_the_whole_are_asked_about(odds: str) -> None:
    assert "in percent: 30, not 0.3" in faults_of(odds_may=odds)["odds_may"][0]


@pytest.mark.parametrize("odds", ["", "0", "1", "30", "33.3", "0.3 %", "often"])
def test_odds_in_percent_are_not(odds: str) -> None:
    assert faults_of(odds_may=odds) == {}
