"""Every noun refuses the values it cannot hold, naming the field."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from scheduler.domain import (
    BINOCULARS,
    Availability,
    Barlow,
    Binoculars,
    ClearOdds,
    Extended,
    Eyepiece,
    Filter,
    Guests,
    Kind,
    Kit,
    LightCurve,
    MoonFeature,
    Nature,
    Observer,
    Occasion,
    Orbit,
    Pair,
    Pointing,
    Scenario,
    Season,
    Shower,
    Site,
    Target,
    Telescope,
    View,
)
from scheduler.domain.target import NATURES, NEEDS_NATURE
from scheduler.errors import InvalidValue

NAN, DAY = float("nan"), timedelta(days=1)
NOON = datetime(2027, 1, 1, 12, tzinfo=UTC)
NEWTONIAN, REFRACTOR = Telescope("Newtonian", 200.0, 1200.0), Telescope("Refractor", 70.0, 700.0)
GLASS, MIDDLE = Binoculars("10x50", 10.0, 50.0), Eyepiece("25 mm", 25.0)
KIT = Kit((NEWTONIAN, REFRACTOR), (MIDDLE,), Barlow(2.0), GLASS, (Filter("narrow"),))
FITTED = replace(MIDDLE, telescope="Newtonian")
VIEW = View("Newtonian", "25 mm", False, None, 48.0, 1.0, 4.2, "lowest power")
POINTING = Pointing("Rigel", 0.1, 8.0, "South, four fists up.")
NEBULA = Target("M 42", Kind.DEEP_SKY, 83.8, -5.4, nature=Extended("emission nebula", 40.0, None, 9))
SPIED = replace(NEBULA, instrument="spyglass")
SCENARIO = Scenario(
    "year", Site("Moor", 55.0, -2.0, 240.0, "Europe/London", 21.2, 0.26), KIT, Season(date(2027, 1, 1)),
    Availability(), ClearOdds((0.4,) * 12), (NEBULA,), observers=(Observer("Ada"), Observer("Ben")),
)  # fmt: skip

RANGES: list[tuple[Any, str, float, float]] = [
    (NEWTONIAN, "aperture_mm", 20.0, 2000.0), (REFRACTOR, "focal_length_mm", 60.0, 20000.0),
    (NEWTONIAN, "obstruction_mm", 0.0, 120.0), (MIDDLE, "focal_length_mm", 1.5, 80.0),
    (MIDDLE, "apparent_field_deg", 20.0, 120.0), (Barlow(), "factor", 1.1, 6.0),
    (GLASS, "magnification", 2.0, 40.0), (GLASS, "aperture_mm", 15.0, 200.0),
    (GLASS, "true_field_deg", 0.5, 12.0), (Filter("narrow"), "line_pass", 0.1, 1.0),
    (Filter("narrow"), "sky_pass", 0.005, 1.0), (Observer(), "age", 5, 110),
    (VIEW, "magnification", 0.5, 100000.0), (VIEW, "true_field_deg", 0.0, 180.0),
    (VIEW, "exit_pupil_mm", 0.0, 3000.0), (POINTING, "distance_deg", 0.0, 180.0),
    (Extended("galaxy"), "minor_arcmin", 0.0, 3600.0), (Extended("galaxy"), "stars", 1, 10_000_000),
    (Pair(3.0, 20.0, 9.0), "bright_mag", -2.0, 20.0), (Pair(3.0, 5.0, 9.0), "faint_mag", 2.5, 20.0),
    (Pair(3.0, 5.0, 9.0), "separation_arcsec", 0.1, 3600.0),
    (Pair(3.0, 5.0, 9.0, 90.0), "position_angle_deg", 0.0, 360.0),
    (LightCurve(2.0, 25.0), "brightest_mag", -2.0, 20.0), (LightCurve(2.0, 3.0), "faintest_mag", 2.0, 25.0),
    (LightCurve(2.0, 3.0), "wide_h", 0.1, 9600.0), (LightCurve(2.0, 3.0), "mean_maximum_mag", 2.0, 3.0),
    (LightCurve(2.0, 3.0, 2_452_500.0, 2.9), "period_d", 0.02, 20000.0),
    (LightCurve(2.0, 3.0, 2_452_500.0, 2.9), "epoch_hjd", 2_400_000.0, 2_500_000.0),
    (MoonFeature(0.0, 0.0, 9.0), "longitude_deg", -180.0, 180.0),
    (MoonFeature(0.0, 0.0, 9.0), "latitude_deg", -90.0, 90.0),
    (MoonFeature(0.0, 0.0, 9.0), "size_km", 0.5, 4000.0),
    *((Orbit(2_461_000.5, 1.0, 0.1, 2.0, 3.0, 4.0, 9.0), *one) for one in (
        ("perihelion_jd", 2_300_000.0, 2_600_000.0), ("perihelion_au", 0.001, 100.0),
        ("eccentricity", 0.0, 5.0), ("inclination_deg", 0.0, 180.0), ("node_deg", 0.0, 360.0),
        ("argument_deg", 0.0, 360.0), ("absolute_mag", -5.0, 35.0), ("slope", -1.0, 30.0),
        ("size_arcmin", 0.0, 600.0),
    )),
    *((Shower(140.0, 100.0), *one) for one in (
        ("peak_longitude_deg", 0.0, 360.0), ("zenithal_rate", 1.0, 20000.0),
        ("population_index", 1.5, 4.0), ("rise_per_deg", 0.001, 20.0), ("fall_per_deg", 0.001, 20.0),
    )),
    (Guests(), "people", 1, 500), (Guests(), "minutes_each", 0.2, 30.0),
    (NEBULA, "minutes", 2, 600), (NEBULA, "priority", 1, 5), (NEBULA, "visits", 1, 40),
    (NEBULA, "spacing_days", 1, 366), (NEBULA, "longest_spacing_days", 7, 400),
    (NEBULA, "lowest_altitude_deg", 0.0, 85.0), (NEBULA, "magnitude", -30.0, 30.0),
    (NEBULA, "size_arcmin", 0.0, 3600.0), (NEBULA, "ra_deg", 0.0, 360.0), (NEBULA, "dec_deg", -90.0, 90.0),
]  # fmt: skip


@pytest.mark.parametrize(
    ("noun", "field", "low", "high"), RANGES, ids=lambda value: getattr(type(value), "__name__", "")
)
def test_a_figure_lies_in_its_range(noun: Any, field: str, low: float, high: float) -> None:
    for inside in (low, high):
        assert getattr(replace(noun, **{field: inside}), field) == inside
    outside = (
        [low - 1, high + 1]
        if isinstance(low, int)
        else [math.nextafter(low, -1e9), math.nextafter(high, 1e9), NAN]
    )
    for value in outside:
        with pytest.raises(InvalidValue) as refused:
            replace(noun, **{field: value})
        assert refused.value.field.split()[-1] == field


def _named(noun: Any, field: str) -> tuple[Callable[[], object], str]:
    return (lambda: replace(noun, **{field: " "})), "a printable text"


REFUSED: list[tuple[Callable[[], object], str]] = [
    *(_named(noun, "name") for noun in (NEWTONIAN, MIDDLE, GLASS, Filter("narrow"), Observer(), NEBULA)),
    _named(Extended("galaxy"), "what"), _named(VIEW, "instrument"), _named(POINTING, "words"),
    _named(NEBULA, "instrument"),
    (lambda: Kit(), "a telescope or binoculars"),
    (lambda: Kit((NEWTONIAN,)), "at least one eyepiece for Newtonian"),
    (lambda: replace(KIT, eyepieces=(FITTED,)), "eyepiece for Refractor"),
    (lambda: Kit((NEWTONIAN, NEWTONIAN), (MIDDLE,)), "a name of its own"),
    (lambda: replace(KIT, binoculars=replace(GLASS, name="Newtonian")), "a name of its own"),
    (lambda: Kit(binoculars=replace(GLASS, name="naked eye")), "a name of its own"),
    (lambda: Kit((NEWTONIAN,), (MIDDLE, replace(MIDDLE, telescope="other"))), "a telescope of the kit"),
    (lambda: replace(KIT, eyepieces=(MIDDLE, replace(FITTED, telescope="10x50"))), "a telescope of the kit"),
    (lambda: replace(POINTING, star=None), "or none of them"),
    (lambda: replace(POINTING, star_magnitude=None), "or none of them"),
    (lambda: replace(POINTING, distance_deg=None), "or none of them"),
    (lambda: LightCurve(2.0, 3.0, epoch_hjd=2_452_500.0), "an epoch and a period, or neither"),
    (lambda: LightCurve(2.0, 3.0, period_d=3.0), "an epoch and a period, or neither"),
    (lambda: Occasion(NOON, NOON), "an end at most 18 hours later"),
    (lambda: Occasion(NOON, NOON + 0.8 * DAY), "an end at most 18 hours later"),
    (lambda: Occasion(NOON.replace(tzinfo=None), NOON), "an aware UTC time"),
    (lambda: replace(NEBULA, longest_spacing_days=6), "from 7 to 400"),
    (lambda: replace(NEBULA, earliest=date(2027, 2, 1), latest=date(2027, 1, 1)), "a date not before"),
    (lambda: replace(NEBULA, body="jupiter"), "a fixed place"),
    (lambda: replace(NEBULA, ra_deg=None), "a number from 0 to 360"),
    (lambda: Target("Jupiter", Kind.PLANET), "the planet's name"),
    (lambda: Target("Jupiter", Kind.PLANET, 1.0, 2.0, "jupiter"), "no place of its own"),
    (lambda: Target("Moon", Kind.PLANET, body="moon"), "the body of a planet"),
    (lambda: Target("Eclipse", Kind.ECLIPSE, body="mars"), "the body of an eclipse"),
    (lambda: replace(SCENARIO, targets=()), "at least one target"),
    (lambda: replace(SCENARIO, targets=(NEBULA, NEBULA)), "every target once"),
    (lambda: replace(SCENARIO, targets=(SPIED,)), "an instrument of the kit"),
    (lambda: replace(SCENARIO, observers=()), "at least one observer"),
    (lambda: replace(SCENARIO, observers=(Observer(), Observer())), "every observer once"),
    (lambda: replace(SCENARIO, observers=(Observer("Ada", 40, ("spyglass",)),)), "instruments of the kit"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "expected"), REFUSED)
def test_what_does_not_go_together_is_refused(make: Callable[[], object], expected: str) -> None:
    with pytest.raises(InvalidValue) as refused:
        make()
    assert expected in refused.value.expected


SOUND: dict[type[Nature], Nature] = {
    type(one): one for one in (
        Extended("galaxy"), Pair(3.0, 5.0, 9.0), LightCurve(2.0, 3.0), MoonFeature(0.0, 0.0, 9.0),
        Orbit(2_461_000.5, 1.0, 0.1, 2.0, 3.0, 4.0, 9.0), Shower(140.0, 100.0),
        Occasion(NOON, NOON + 0.1 * DAY),
    )
}  # fmt: skip
BODIES = {Kind.PLANET: "mars", Kind.MOON_FEATURE: "moon", Kind.ECLIPSE: "moon"}


@pytest.mark.parametrize("kind", Kind)
@pytest.mark.parametrize("nature", [None, *SOUND.values()], ids=lambda nature: type(nature).__name__)
def test_a_target_has_the_nature_of_its_kind_and_no_other(kind: Kind, nature: Nature | None) -> None:
    moves = kind in BODIES or isinstance(nature, Orbit)
    ra_deg, dec_deg = (None, None) if moves else (1.0, 2.0)
    if type(nature) in NATURES[kind] or (nature is None and kind not in NEEDS_NATURE):
        assert Target("Own", kind, ra_deg, dec_deg, BODIES.get(kind), nature=nature).moves is moves
        return
    with pytest.raises(InvalidValue) as refused:
        Target("Own", kind, ra_deg, dec_deg, BODIES.get(kind), nature=nature)
    assert refused.value.field == "nature"
    assert kind.with_article in refused.value.expected


def test_a_target_may_ask_for_a_sort_of_instrument_or_for_one() -> None:
    for asked in (None, "naked eye", BINOCULARS, "telescope", "Refractor", "10x50"):
        assert replace(SCENARIO, targets=(replace(NEBULA, instrument=asked),)).targets[0].instrument == asked


def test_eyepieces_are_those_that_fit_longest_first() -> None:
    own = Eyepiece("9 mm", 9.0, telescope="Refractor")
    kit = replace(KIT, eyepieces=(own, MIDDLE, Eyepiece("32 mm", 32.0)))
    assert [one.name for one in kit.eyepieces_of(NEWTONIAN)] == ["32 mm", "25 mm"]
    assert [one.name for one in kit.eyepieces_of(REFRACTOR)] == ["32 mm", "25 mm", "9 mm"]
    assert kit.instruments == ("Newtonian", "Refractor", "10x50")
