"""What a visit says of the instrument, and why this one."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given

from scheduler.domain import NAKED_EYE, Eyepiece, Kind, Kit, Observer, Shower, Target, Telescope
from scheduler.visibility.merit import MeritSettings
from scheduler.visibility.optics import optics_of
from scheduler.visibility.view import view_of, why_view

from .seeing import FULL_KIT, OXYGEN, deep_sky, double, kits

OPTICS = optics_of(FULL_KIT, [Observer("Ada"), Observer("Bo", 70)])
NAKED, GLASS, LOWEST, FILTERED = OPTICS[:4]
OURS = MeritSettings()


def test_a_view_carries_the_figures_of_the_optic() -> None:
    view = view_of(LOWEST, deep_sky("galaxy", 9.0, 5.0))
    assert (view.instrument, view.eyepiece, view.barlow, view.filter) == ("200 mm", "32 mm", False, None)
    assert (view.magnification, view.exit_pupil_mm) == (37.5, 200 / 37.5)
    assert view.observers == ("Ada", "Bo")


def test_it_says_how_the_field_suits() -> None:
    assert "frames it with room" in why_view(LOWEST, deep_sky("galaxy", 9.0, 5.0), OURS)
    assert "just frames it" in why_view(LOWEST, deep_sky("galaxy", 9.0, 75.0), OURS)
    assert "wider than the field" in why_view(LOWEST, deep_sky("galaxy", 9.0, 100.0), OURS)


def test_it_says_what_a_filter_does() -> None:
    nebula = deep_sky("emission nebula", 8.0, 20.0)
    assert "narrow filter darkens the sky behind the nebula's lines" in why_view(FILTERED, nebula, OURS)
    oxygen = next(one for one in OPTICS if one.filter is OXYGEN)
    assert "O III filter darkens the sky behind its O III light" in why_view(oxygen, nebula, OURS)
    assert "filter" not in why_view(LOWEST, nebula, OURS)


def test_it_says_who_chose() -> None:
    asked = replace(deep_sky("open cluster", 1.2, 110.0), instrument=NAKED_EYE)
    assert why_view(NAKED, asked, OURS).startswith("as asked for")
    assert why_view(GLASS, replace(asked, instrument=None), OURS).startswith(
        "nothing you have shows it better"
    )
    assert why_view(LOWEST, double(3.0, 5.0, 34.6), OURS).endswith('38x for 34.6", 5.3 mm exit pupil')


def test_meteors_want_nothing_in_the_way() -> None:
    shower = Target("Perseids", Kind.METEOR_SHOWER, 48.0, 58.0, nature=Shower(140.0, 100.0))
    assert why_view(NAKED, shower, OURS) == "nothing in the way: the whole sky at once"


@given(kit=kits())
def test_every_way_of_looking_makes_a_view(kit: Kit) -> None:
    for optic in optics_of(kit, [Observer()]):
        assert view_of(optic, deep_sky("galaxy", 9.0, 5.0)).why


def test_so_do_absurd_ones() -> None:
    absurd = Kit(
        (Telescope("T", 2000, 20000), Telescope("S", 2000, 60)), (Eyepiece("a", 1.5, 120), Eyepiece("b", 80))
    )
    for optic in optics_of(absurd, [Observer()]):
        assert view_of(optic, deep_sky("galaxy", 9.0, 5.0)).why
