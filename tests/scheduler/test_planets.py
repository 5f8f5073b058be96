"""The season of every planet for one observer; the apparitions themselves are held elsewhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

from scheduler.domain import Availability, EveningRule
from scheduler.planets import planet_seasons_of
from tests.small_season import JUPITER, LARKMOOR, MERCURY, ORION, scenario

YEAR = scenario(JUPITER, ORION, start=date(2027, 1, 1), nights=365)


def test_the_oppositions_of_2027_are_in_it() -> None:
    # From memory, to the day: Jupiter on 10-11 February, Mars on 19 February, Saturn on 18 October 2027.
    # The search itself is held to more dates, of the same standing, in tests/published/sky_events.csv.
    seasons = {season.body: season for season in planet_seasons_of(YEAR)}
    peaks = {
        body: [one.peak.instant.date() for one in season.apparitions if one.peak]
        for body, season in seasons.items()
    }
    assert peaks["mars"] == [date(2027, 2, 19)]
    assert peaks["saturn"] == [date(2027, 10, 18)]
    assert peaks["jupiter"][0] in (date(2027, 2, 10), date(2027, 2, 11))
    assert next(iter(seasons)) == "mercury"
    assert len(seasons) == 7


def test_the_wish_lists_own_lowest_altitude_counts() -> None:
    lowest = {season.body: season.lowest_altitude_deg for season in planet_seasons_of(YEAR)}
    assert lowest["jupiter"] == JUPITER.lowest_altitude_deg == 15.0
    assert lowest["mercury"] == 8.0
    assert lowest["saturn"] == 15.0
    wished = scenario(replace(MERCURY, lowest_altitude_deg=5.0))
    assert planet_seasons_of(wished)[0].lowest_altitude_deg == 5.0


def test_who_goes_to_bed_early_has_other_best_weeks() -> None:
    def best(finish: time) -> date:
        rule = EveningRule(start=time(18), finish=finish)
        made = scenario(start=date(2027, 1, 1), nights=150, availability=Availability((rule,)))
        return next(s for s in planet_seasons_of(made) if s.body == "jupiter").apparitions[0].best.night

    assert best(time(20, 30)) > best(time(3))


def test_an_observer_who_is_never_free_still_has_planets() -> None:
    away = Availability((EveningRule(()),))
    seasons = planet_seasons_of(scenario(site=LARKMOOR, nights=60, availability=away))
    assert next(s for s in seasons if s.body == "jupiter").apparitions
    assert all(season.words for season in seasons)
