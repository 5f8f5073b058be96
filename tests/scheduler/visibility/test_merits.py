"""Each kind follows its own law, through the instruments it may use."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time

import numpy as np
import pytest

from scheduler.domain import (
    SUN_DISTANCE_DEG,
    Binoculars,
    EveningRule,
    Extended,
    Eyepiece,
    Guests,
    Kind,
    Kit,
    LightCurve,
    MoonFeature,
    Observer,
    Occasion,
    Orbit,
    Pair,
    Reason,
    Season,
    Target,
    Telescope,
)
from scheduler.domain.opportunity import Floats
from scheduler.sky import separation_deg, sky_of, sun_at
from scheduler.visibility.merits import LEFT_AT_THE_ENDS, best_ever, merit_of
from scheduler.visibility.opportunities import BRIGHT_GUESTS_MERIT, GUESTS_MERIT
from scheduler.visibility.outlook import outlook_of
from scheduler.visibility.prospect import Prospect, prospect_for
from scheduler.visibility.reach import point_merit
from scheduler.year import plan_year
from tests.small_season import (
    ALBIREO,
    ALGOL,
    ANDROMEDA,
    ECLIPSE,
    FLATS,
    HERCULES,
    JUPITER,
    KIT,
    ORION,
    PERSEIDS,
    PLATO,
    scenario,
    season_of,
)

GLASS = Binoculars("10x50", 10.0, 50.0, 6.5)
# Vesta near enough: perihelion, distance, shape and tilt of its orbit (from memory)
VESTA = Target("Vesta", Kind.MINOR_BODY, nature=Orbit(2461000.0, 2.15, 0.09, 7.1, 103.8, 151.0, 3.25, 0.32))


def merits(prospect: Prospect, row: int, night: int, unix_s: Floats) -> Floats:
    rows, nights = np.full(len(unix_s), row), np.full(len(unix_s), night)
    seen = outlook_of(prospect.sky, prospect.places, rows, nights, unix_s)
    return merit_of(prospect, rows, nights, unix_s, seen)


def test_a_variable_shows_best_at_its_minimum_and_least_at_the_ends_of_its_stretch() -> None:
    prospect = season_of(scenario(ALGOL, nights=30))[0]
    late_s = np.abs(prospect.occasions.peak_unix_s[0] - prospect.sky.midnight_unix_s)
    night = int(np.nanargmin(late_s))
    peak = prospect.occasions.peak_unix_s[0, night]
    start, end = prospect.occasions.span_unix_s[0, night]
    found = merits(prospect, 0, night, np.array([start + 1.0, peak, end - 1.0]))
    assert found[1] > 0.9
    assert found[0] == pytest.approx(LEFT_AT_THE_ENDS, abs=0.1)
    assert found[2] < found[1]


@pytest.mark.parametrize("target", [ALBIREO, replace(ALGOL, nature=LightCurve(2.1, 3.4)), ORION])
def test_what_shows_well_low_shows_best_where_it_is_highest(target: Target) -> None:
    prospect = season_of(scenario(target, nights=1))[0]
    unix_s = prospect.sky.midnight_unix_s[0] + np.arange(-6.0, 6.0, 0.25) * 3600.0
    nights = np.zeros(len(unix_s), np.int64)
    seen = outlook_of(prospect.sky, prospect.places, nights, nights, unix_s)
    high = (seen.altitude_deg > 10.0) & (sun_at(prospect.sky, unix_s).altitude_deg < -18.0)
    found = merits(prospect, 0, 0, unix_s[high])
    assert high.sum() > 5
    assert seen.altitude_deg[high][found.argmax()] == seen.altitude_deg[high].max()


def test_a_crater_shows_while_its_shadows_are_long() -> None:
    of = scenario(PLATO, start=date(2027, 1, 1), nights=30, rule=EveningRule())
    prospect, free, rows = season_of(of)
    days = np.array([(free[n].evening - date(2027, 1, 1)).days for n in rows.night.tolist()])
    # first quarter on 15 January 2027 (from memory): the Sun rises over Plato a day later
    assert set(range(15, 19)) & set(days.tolist())
    assert rows.merit.max() > 0.9
    middle = rows.epoch.timestamp() + 60.0 * rows.best_min.astype(float)
    sun_deg = prospect.moonface.sun_altitude_deg(-9.3, 51.6, middle)
    assert sun_deg[rows.merit > 0.5].min() > 0.5
    assert sun_deg[rows.merit > 0.5].max() < 14.0
    full = merits(prospect, 0, 21, prospect.sky.midnight_unix_s[[21]])
    assert full[0] < 0.05  # full Moon on 22 January


def test_a_minor_body_shows_by_its_nightly_magnitude_and_the_kit() -> None:
    bright = season_of(scenario(VESTA, nights=20))[2]
    dim = replace(VESTA, nature=replace(VESTA.nature, absolute_mag=9.0))  # type: ignore[type-var]
    far = season_of(scenario(dim, nights=20))[2]
    assert bright.merit.max(initial=0.0) > far.merit.max(initial=0.0) + 0.3
    naked = replace(VESTA, instrument="naked eye")
    assert len(season_of(scenario(naked, nights=20))[2]) == 0


def test_a_shower_shows_by_its_rate_its_radiant_and_the_sky() -> None:
    august = scenario(PERSEIDS, start=date(2027, 8, 8), nights=10)
    _, free, rows = season_of(august)
    best = free[int(rows.night[rows.merit.argmax()])].evening
    assert date(2027, 8, 11) <= best <= date(2027, 8, 14)
    city = replace(august, site=replace(august.site, sky_brightness=18.0))
    assert season_of(city)[2].merit.max() < 0.75 * rows.merit.max()


@pytest.mark.parametrize(
    ("target", "kit", "shown"),
    [
        (replace(JUPITER, instrument="telescope"), Kit(binoculars=GLASS), False),
        (replace(JUPITER, instrument="telescope"), KIT, True),
        (replace(PLATO, instrument="binoculars"), replace(KIT, binoculars=GLASS), True),
        (replace(ANDROMEDA, instrument="naked eye"), KIT, False),
        (replace(HERCULES, instrument="binoculars"), replace(KIT, binoculars=GLASS), True),
        (replace(ALBIREO, nature=Pair(6.0, 6.0, 1.2), instrument="binoculars"),
         replace(KIT, binoculars=GLASS), False),
    ],
)  # fmt: skip
def test_the_instrument_asked_for_decides_what_shows(target: Target, kit: Kit, shown: bool) -> None:
    of = replace(scenario(target, start=date(2027, 3, 10), nights=14, rule=EveningRule()), kit=kit)
    assert (len(season_of(of)[2]) > 0) is shown


def test_what_no_instrument_shows_says_so() -> None:
    faint = replace(ANDROMEDA, magnitude=17.5, size_arcmin=3.0, nature=Extended("galaxy"))
    tight = replace(ALBIREO, nature=Pair(6.0, 6.0, 0.4))
    prospect = season_of(scenario(faint, tight, ORION, nights=5))[0]
    assert [best_ever(prospect, row) >= 0.05 for row in range(3)] == [False, False, True]
    plan = plan_year(scenario(faint, tight, ORION, nights=5), seconds=0.2)
    reasons = {entry.target: entry for entry in plan.unplaced}
    assert reasons["M 31"].reason is reasons["Albireo"].reason is Reason.NO_INSTRUMENT
    assert "too faint for anything you have" in reasons["M 31"].words
    assert "too close a pair" in reasons["Albireo"].words


def test_guests_are_shown_bright_things_for_long_enough_and_go_home_early() -> None:
    faint = replace(ANDROMEDA, magnitude=10.0)
    short = replace(HERCULES, name="Short", ra_deg=60.0, minutes=5)
    evening = date(2027, 1, 15)
    of = scenario(ORION, faint, short, VESTA, JUPITER, ALGOL, nights=30)
    of = replace(of, guests=Guests(frozenset({evening}), 10, 1.0, time(22)))
    _, free, rows = season_of(of)
    position = next(n for n, night in enumerate(free) if night.evening == evening)
    assert (free[position].guests, free[position].free.end.hour) == (10, 22)
    assert sum(night.guests for night in free) == 10
    on = rows.night == position
    shown = {of.targets[t].name for t in rows.target[on].tolist()}
    assert "M 42" in shown
    assert shown <= {"M 42", "Jupiter", "Short"}
    assert rows.merit[on].min() >= BRIGHT_GUESTS_MERIT
    assert rows.merit[on & (rows.target != 4)].min() >= GUESTS_MERIT
    # five minutes are too short for ten guests: it may wait, for as long as they take
    assert {of.targets[t].name for t in rows.target[rows.standby_only].tolist()} <= {"Short"}
    assert not rows.standby_only[~on].any()
    assert (rows.end_min - rows.start_min)[on].min() >= 10
    assert {"Short", "M 31", "Algol"} <= {of.targets[t].name for t in rows.target[~on].tolist()}


def test_moon_and_minor_bodies_keep_away_from_the_sun_like_planets() -> None:
    of = scenario(PLATO, VESTA, start=date(2027, 1, 1), nights=30)
    prospect = prospect_for(sky_of(of.site, of.season.evenings), of)
    # new Moon on 7 January 2027 (from memory)
    assert not prospect.safe[0, 6]
    assert prospect.safe[0, 21]


def fast_comet() -> Target:
    """Return an invented comet that passes the Earth on the Sun's side, quicker than any planet."""
    orbit = Orbit(2461474.0, 0.37, 0.62, 6.0, 299.0, 305.0, 4.0, 4.0, True)
    return Target("Comet", Kind.MINOR_BODY, nature=orbit, minutes=2, lowest_altitude_deg=0.0)


def test_what_rushes_past_the_sun_keeps_its_distance_from_noon_to_noon() -> None:
    of = scenario(fast_comet(), start=date(2027, 1, 15), nights=60)
    prospect = prospect_for(sky_of(of.site, of.season.evenings), of)
    sky, nights = prospect.sky, np.arange(60)
    moments = np.linspace(sky.noon_unix_s, sky.next_noon_unix_s, 25, axis=1)
    ra_deg, dec_deg = prospect.places.at(0, nights[:, None], moments)
    sun = sun_at(sky, moments)
    apart_deg = separation_deg(ra_deg, dec_deg, sun.ra_of_date_deg, sun.dec_of_date_deg)
    safe = prospect.safe[0]
    assert apart_deg[safe].min() >= SUN_DISTANCE_DEG
    at_midnight = apart_deg[:, 12]
    late = (at_midnight >= SUN_DISTANCE_DEG + 1.5) & (apart_deg.min(axis=1) < SUN_DISTANCE_DEG)
    assert late.any()  # midnight and a planet's margin would let it too near
    assert not safe[late].any()
    assert 20 < safe.sum() < 60


SMALL_CRATER = replace(PLATO, name="Small", nature=MoonFeature(-9.3, 51.6, 14.0))
SHADOW = Target("Shadow", Kind.ECLIPSE, body="jupiter", minutes=20)
TALK = Target(
    "Talk", Kind.EVENT, 83.8, 20.0, minutes=30,
    nature=Occasion(datetime(2027, 1, 10, 20, tzinfo=UTC), datetime(2027, 1, 10, 22, tzinfo=UTC)),
)  # fmt: skip


@pytest.mark.parametrize(
    ("target", "kit", "least", "most"),
    [
        (PLATO, Kit(binoculars=GLASS), 0.8, 1.0),
        (replace(PLATO, instrument="naked eye"), KIT, 0.0, 0.1),
        (SMALL_CRATER, KIT, 0.8, 1.0),
        (SMALL_CRATER, Kit(binoculars=GLASS), 0.0, 0.2),
        (SHADOW, KIT, 1.0, 1.0),
        (SHADOW, Kit(binoculars=Binoculars("20x80", 20.0, 80.0)), 0.0, 0.0),
        (SHADOW, replace(KIT, eyepieces=(Eyepiece("60 mm", 60.0),)), 0.0, 0.0),
        (TALK, KIT, 1.0, 1.0),
        (replace(TALK, instrument="telescope"), Kit(binoculars=GLASS), 0.0, 0.0),
        (replace(PLATO, instrument="telescope"), Kit(binoculars=GLASS), 0.0, 0.0),
        (replace(VESTA, instrument="telescope"), Kit(binoculars=GLASS), 0.0, 0.0),
    ],
)  # fmt: skip
def test_the_kit_alone_may_rule_a_target_out(target: Target, kit: Kit, least: float, most: float) -> None:
    of = replace(scenario(target, nights=10), kit=kit)
    prospect = prospect_for(sky_of(of.site, of.season.evenings), of)
    assert least <= best_ever(prospect, 0) <= most


def test_binoculars_show_less_of_a_planet_than_a_telescope_of_their_aperture() -> None:
    glasses = Kit(binoculars=GLASS)
    scope = Kit((Telescope("50 mm", 50.0, 600.0),), (Eyepiece("10 mm", 10.0),))
    best = [season_of(scenario(JUPITER, kit=kit))[2].merit.max() for kit in (glasses, scope)]
    assert best[0] < 0.7 * best[1]


def test_nothing_is_offered_that_asks_for_an_instrument_nobody_uses() -> None:
    kit = replace(KIT, binoculars=GLASS)
    wished = [replace(one, instrument="telescope") for one in (TALK, PLATO, JUPITER, ORION, ALGOL, VESTA)]
    of = scenario(*wished, kit=kit, observers=(Observer(instruments=(GLASS.name,)),))
    assert len(season_of(of)[2]) == 0
    plan = plan_year(of, seconds=0.2)
    assert {entry.reason for entry in plan.unplaced} == {Reason.NO_INSTRUMENT}
    assert all("asks for a telescope" in entry.words for entry in plan.unplaced)


def test_what_only_guests_evenings_leave_out_says_so() -> None:
    of = scenario(VESTA, ORION, nights=3)
    of = replace(of, guests=Guests(frozenset(of.season.evenings), 8, 1.0))
    plan = plan_year(of, seconds=0.2)
    (left,) = plan.unplaced
    assert (left.target, left.reason) == ("Vesta", Reason.NOT_SHOWN)
    assert "only on your guests' evenings" in left.words


@pytest.mark.parametrize(
    ("target", "kit", "reason", "words"),
    [
        (SMALL_CRATER, Kit(binoculars=Binoculars("6x30", 6.0, 30.0)), Reason.NO_INSTRUMENT,
         "too fine a detail for anything you have"),
        (SHADOW, Kit(binoculars=GLASS), Reason.NO_INSTRUMENT, "too fine a detail for anything you have"),
        (replace(SHADOW, earliest=date(2027, 1, 2), latest=date(2027, 1, 2)), KIT, Reason.WRONG_TIME,
         "while a shadow crosses its disc"),
        (ECLIPSE, KIT, Reason.WRONG_TIME, "no eclipse of the Moon shows from here in this season"),
        (replace(SHADOW, lowest_altitude_deg=0.0, minutes=2), KIT, Reason.NOT_SHOWN,
         "too low in unsteady air or too small to show well"),
    ],
)  # fmt: skip
def test_fine_detail_and_shadows_say_what_they_lack(
    target: Target, kit: Kit, reason: Reason, words: str
) -> None:
    of = scenario(target, nights=30, kit=kit, rule=EveningRule())
    if reason is Reason.NOT_SHOWN:  # where Jupiter, 14 deg north, never gets above 3 deg
        of = replace(of, site=replace(FLATS, latitude_deg=-74.0), season=Season(date(2027, 4, 20), 30))
    (left,) = plan_year(of, seconds=0.2).unplaced
    assert (left.reason, words in left.words) == (reason, True), left.words


def test_the_middle_of_a_stretch_counts_for_nearly_as_much_on_either_side_of_an_uneven_one() -> None:
    prospect = season_of(scenario(ALGOL, nights=30))[0]
    late_s = np.abs(prospect.occasions.peak_unix_s[0] - prospect.sky.midnight_unix_s)
    night = int(np.nanargmin(late_s))
    peak = prospect.occasions.peak_unix_s[0, night]
    span = prospect.occasions.span_unix_s.copy()
    span[0, night] = peak - 1800.0, peak + 5400.0
    uneven = replace(prospect, occasions=replace(prospect.occasions, span_unix_s=span))
    found = merits(uneven, 0, night, peak + np.array([-1800.0, -900.0, 0.0, 2700.0, 5400.0]))
    left = 1.0 - LEFT_AT_THE_ENDS
    expected = np.array([1.0 - left, 1.0 - left / 4.0, 1.0, 1.0 - left / 4.0, 1.0 - left])
    np.testing.assert_allclose(found / found[2], expected, atol=0.01)  # Algol is bright: all else is alike


def test_an_eclipse_is_worth_its_depth_and_its_greatest_moment() -> None:
    # partial on 12 January 2028, greatest 04:13 UTC (canon, from memory); the Moon stands high
    of = scenario(ECLIPSE, start=date(2028, 1, 11), nights=1, rule=EveningRule())
    prospect = prospect_for(sky_of(of.site, of.season.evenings), of)
    occasions = prospect.occasions
    (start, end), peak = occasions.span_unix_s[0, 0], occasions.peak_unix_s[0, 0]
    found = merits(prospect, 0, 0, np.array([start, peak, end]))
    share = occasions.strength[0, 0]
    assert 0.5 < share < 0.6
    np.testing.assert_allclose(found, share * np.array([LEFT_AT_THE_ENDS, 1.0, LEFT_AT_THE_ENDS]), atol=0.01)


def test_a_minor_body_is_dimmed_by_the_air_of_the_site() -> None:
    faint = replace(VESTA, nature=replace(VESTA.nature, absolute_mag=7.5))  # type: ignore[type-var]
    of = scenario(faint, nights=3)
    prospect = prospect_for(sky_of(of.site, of.season.evenings), of)
    night = np.linspace(prospect.sky.dark_start_unix_s[0], prospect.sky.dark_end_unix_s[0], 30)
    zero = np.zeros(30, dtype=np.int64)
    highest = outlook_of(prospect.sky, prospect.places, zero, zero, night).altitude_deg.argmax()
    moment = night[[highest]]
    seen = outlook_of(prospect.sky, prospect.places, zero[:1], zero[:1], moment)
    magnitude = prospect.magnitude[0, [0]]
    thick, thin = (
        float(point_merit(magnitude, seen.sky_brightness, k * seen.airmass, prospect.reach(0))[0])
        for k in (prospect.sky.site.extinction_mag, 0.0)
    )
    assert merits(prospect, 0, 0, moment)[0] == pytest.approx(thick, abs=1e-12)
    assert 0.05 < thick < thin - 0.05
    overhead = point_merit(prospect.magnitude[0].min(), 21.2, 0.26, prospect.reach(0))  # Larkmoor's best
    assert best_ever(prospect, 0) == pytest.approx(float(overhead), abs=1e-12)
