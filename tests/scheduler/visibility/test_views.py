"""Each kind is looked at through what suits it, of what it may be looked at through."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.domain import (
    Barlow,
    Binoculars,
    Extended,
    Eyepiece,
    Filter,
    Kind,
    Kit,
    LightCurve,
    Observer,
    Occasion,
    Orbit,
    Target,
    Telescope,
    View,
)
from scheduler.sky import sky_of
from scheduler.visibility.outlook import Outlook
from scheduler.visibility.prospect import Prospect, prospect_for
from scheduler.visibility.through import merits_through
from scheduler.visibility.views import FINEST_PUPIL_MM, SEEN_FIRST, seen_in_binoculars, views_of
from tests.small_season import ALBIREO, ECLIPSE, JUPITER, LARKMOOR, ORION, PERSEIDS, PLATO, scenario

GLASS = Binoculars("10x50", 10.0, 50.0, 6.5)
LONG, MIDDLE, SHORT = Eyepiece("32 mm", 32.0), Eyepiece("15 mm", 15.0), Eyepiece("6 mm", 6.0)
LARGE, SMALL = Telescope("200 mm", 200.0, 1200.0, 50.0), Telescope("80 mm", 80.0, 560.0)
FULL = Kit((SMALL, LARGE), (LONG, MIDDLE, SHORT), Barlow(2.0), GLASS, (Filter("narrow band"),))

START = datetime(2027, 1, 10, 20, tzinfo=UTC)
EVENT = Target("Close", Kind.EVENT, 83.8, 20.0, nature=Occasion(START, START + timedelta(hours=1)))
SHADOW = Target("Shadow", Kind.ECLIPSE, body="jupiter")
# Vesta near enough (elements from memory): 6 to 8 mag
VESTA = Target("Vesta", Kind.MINOR_BODY, nature=Orbit(2461000.0, 2.15, 0.09, 7.1, 103.8, 151.0, 3.25, 0.32))
FAINT = replace(VESTA, name="Faint", nature=Orbit(2461000.0, 2.15, 0.09, 7.1, 103.8, 151.0, 9.0, 0.32))


def prospect_of(
    *targets: Target,
    kit: Kit = FULL,
    seeing_arcsec: float = 2.0,
    observers: tuple[Observer, ...] = (Observer(),),
) -> Prospect:
    site = replace(LARKMOOR, seeing_arcsec=seeing_arcsec)
    of = replace(scenario(nights=2, site=site), kit=kit, targets=targets, observers=observers)
    return prospect_for(sky_of(of.site, of.season.evenings), of)


def outlook(looks: int, sky_brightness: float = 21.0, airmass: float = 1.2) -> Outlook:
    """Return an outlook in which only the sky behind and the air in front are told."""
    ra, dec, high, moon, apart, lit, sun = np.full((7, looks), np.nan)
    behind, air = np.full(looks, sky_brightness), np.full(looks, airmass)
    return Outlook(ra, dec, high, moon, apart, lit, sun, behind, air)


def views(prospect: Prospect, rows: Sequence[int] | None = None) -> tuple[View, ...]:
    target = np.arange(len(prospect.targets)) if rows is None else np.array(rows, dtype=np.int64)
    return views_of(prospect, target, np.zeros(len(target), dtype=np.int64), outlook(len(target)))


def view(target: Target, kit: Kit = FULL, seeing_arcsec: float = 2.0) -> View:
    return views(prospect_of(target, kit=kit, seeing_arcsec=seeing_arcsec))[0]


@pytest.mark.parametrize("target", [JUPITER, PLATO, SHADOW])
def test_fine_detail_gets_the_largest_aperture_and_the_most_power_the_air_bears(target: Target) -> None:
    # 600 over the seeing in arcseconds: 300x at 2", 150x at 4"; 1200 mm over 6 mm is 200x, doubled 400x
    shown = view(target)
    assert (shown.instrument, shown.eyepiece, shown.barlow, shown.filter) == ("200 mm", "6 mm", False, None)
    turbulent = view(target, seeing_arcsec=7.0)  # 85.7x at most: 80x fits, 75x (32 mm doubled) does too
    assert (turbulent.magnification, turbulent.eyepiece) == (80.0, "15 mm")


def test_the_exit_pupil_bounds_the_power_too() -> None:
    small = replace(FULL, telescopes=(SMALL,))
    shown = view(JUPITER, small, seeing_arcsec=1.0)
    # 80 mm at 93x leaves 0.86 mm; the 6 mm with the Barlow, 187x, would leave 0.43
    assert (shown.eyepiece, shown.barlow) == ("6 mm", False)
    assert shown.exit_pupil_mm >= FINEST_PUPIL_MM


def test_where_no_power_fits_the_lowest_is_taken() -> None:
    assert view(JUPITER, replace(FULL, eyepieces=(SHORT,)), seeing_arcsec=10.0).magnification == 200.0


def test_an_eclipse_and_an_event_get_the_lowest_power_that_magnifies() -> None:
    for target in (ECLIPSE, EVENT):
        assert view(target).instrument == "10x50"
        assert view(target, replace(FULL, binoculars=None)).magnification == 560.0 / 32.0
        assert view(replace(target, instrument="naked eye")).instrument == "naked eye"
        assert view(replace(target, instrument="telescope")).magnification == 560.0 / 32.0


def test_meteors_are_watched_with_the_naked_eye() -> None:
    shown = view(PERSEIDS)
    assert (shown.instrument, shown.magnification, shown.eyepiece) == ("naked eye", 1.0, None)


def test_a_minor_body_gets_the_optic_its_magnitude_of_the_night_needs() -> None:
    prospect = prospect_of(VESTA, FAINT)
    bright, faint = views(prospect)
    assert prospect.magnitude[0, 0] + 5.5 < prospect.magnitude[1, 0]
    assert faint.instrument == "200 mm"
    assert faint.magnification > bright.magnification
    asked = view(replace(FAINT, instrument="80 mm"))
    assert asked.instrument == "80 mm"
    assert view(replace(VESTA, instrument="binoculars")).instrument == "10x50"


def test_a_minor_body_is_looked_up_under_its_own_sky_and_air() -> None:
    prospect = prospect_of(replace(VESTA, name="V", nature=replace(VESTA.nature, absolute_mag=6.0)))  # type: ignore[type-var]
    zero = np.zeros(2, dtype=np.int64)
    dark, bright = views_of(prospect, zero, zero, replace(outlook(2), sky_brightness=np.array([21.5, 16.5])))
    assert bright.magnification > dark.magnification
    thin, thick = views_of(prospect, zero, zero, replace(outlook(2), airmass=np.array([1.0, 12.0])))
    assert thick.magnification > thin.magnification


def test_what_shows_by_the_sky_behind_it_follows_the_table() -> None:
    prospect = prospect_of(JUPITER, ORION, ALBIREO)
    chosen = prospect.table.optic_at(np.array([1, 2]), np.full(2, 21.0), np.full(2, 1.2)).tolist()
    shown = views(prospect)[1:]
    for one, optic in zip(shown, (prospect.optics[row] for row in chosen), strict=True):
        assert (one.instrument, one.eyepiece, one.barlow) == (optic.instrument, optic.eyepiece, optic.barlow)


def test_looks_may_come_in_any_order_and_twice() -> None:
    prospect = prospect_of(JUPITER, PERSEIDS, ORION)
    jupiter, perseids, orion = views(prospect)
    assert views(prospect, [2, 0, 0, 1, 2]) == (orion, jupiter, jupiter, perseids, orion)
    assert views(prospect, []) == ()


def test_only_those_who_use_an_instrument_look_through_it() -> None:
    kit = replace(FULL, telescopes=(LARGE,))
    observers = (Observer("Ada"), Observer("Ben", 40, ("10x50",)))
    prospect = prospect_of(JUPITER, ECLIPSE, PERSEIDS, kit=kit, observers=observers)
    assert [one.observers for one in views(prospect)] == [("Ada",), ("Ada", "Ben"), ("Ada", "Ben")]


def test_what_nobody_can_look_through_falls_back_on_the_eye() -> None:
    observers = (Observer("Ben", 40, ("10x50",)),)
    prospect = prospect_of(replace(JUPITER, instrument="telescope"), observers=observers)
    assert views(prospect)[0].instrument == "naked eye"


def deep_sky(name: str, magnitude: float, size_arcmin: float, instrument: str | None = None) -> Target:
    return Target(
        name, Kind.DEEP_SKY, 83.0, 20.0, magnitude=magnitude, size_arcmin=size_arcmin,
        nature=Extended("galaxy", size_arcmin), instrument=instrument,
    )  # fmt: skip


def test_binoculars_show_first_what_they_show_at_all() -> None:
    wished = [
        deep_sky("bright", 4.0, 30.0), deep_sky("faint", 12.5, 3.0), deep_sky("asked", 4.0, 30.0, "200 mm"),
        JUPITER, PLATO,
        Target("star", Kind.VARIABLE_STAR, 10.0, 10.0, nature=LightCurve(5.0, 6.0)),
    ]  # fmt: skip
    prospect = prospect_of(*wished)
    rows = np.arange(6)
    seen = seen_in_binoculars(prospect, rows, outlook(6))
    # the instrument asked for does not matter; the Moon and planets do not show by the sky behind them
    assert seen.tolist() == [True, False, True, False, False, True]
    assert not seen_in_binoculars(prospect, rows, outlook(6, 12.0, 8.0))[:2].any()
    without = prospect_of(*wished, kit=replace(FULL, binoculars=None))
    assert not seen_in_binoculars(without, rows, outlook(6)).any()


def test_binoculars_do_not_show_first_what_passes_for_a_star_in_them() -> None:
    """NGC 7662, M 57 and M 27 at ten times: common practice, no source."""
    wished = [
        deep_sky("NGC 7662", 8.3, 0.5), deep_sky("M 57", 8.0, 1.4), deep_sky("M 27", 7.4, 8.0),
        replace(deep_sky("no size", 5.0, 8.0), size_arcmin=None), ALBIREO,
    ]  # fmt: skip
    rows = np.arange(len(wished))
    seen = seen_in_binoculars(prospect_of(*wished), rows, outlook(len(rows)))
    assert seen.tolist() == [False, False, True, True, True]
    large = replace(FULL, binoculars=Binoculars("25x100", 25.0, 100.0, 2.5))
    assert seen_in_binoculars(prospect_of(*wished, kit=large), rows, outlook(len(rows)))[1]


def test_binoculars_show_first_from_a_merit_of_three_tenths() -> None:
    magnitudes = np.arange(4.0, 12.0, 0.1)
    wished = [deep_sky(f"{magnitude:.1f}", float(magnitude), 8.0) for magnitude in magnitudes]
    prospect = prospect_of(*wished)
    rows = np.arange(len(wished))
    glasses = [optic for optic in prospect.optics if optic.family == "binoculars"]
    merit = merits_through(wished, glasses, 21.0, 1.2, prospect.sky.site, prospect.settings)[0]
    seen = seen_in_binoculars(prospect, rows, outlook(len(rows)))
    assert seen.tolist() == (merit >= SEEN_FIRST).tolist()
    assert 0 < seen.sum() < len(rows)
