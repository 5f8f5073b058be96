"""Why a moment is a good one is said in words that agree with the sky, a kind at a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from scheduler.domain import (
    Binoculars,
    Darkness,
    EveningRule,
    Kind,
    Kit,
    LightCurve,
    Night,
    Occasion,
    Opportunities,
    Orbit,
    Phase,
    Sight,
    Span,
    Target,
)
from scheduler.sky import looks_of, sky_of
from scheduler.visibility.opportunities import epoch_of
from scheduler.visibility.prospect import Prospect, prospect_for
from scheduler.visibility.words import place_on_the_moon, why_then
from tests.small_season import (
    ALGOL,
    ECLIPSE,
    FLATS,
    JUPITER,
    LARKMOOR,
    ORION,
    PERSEIDS,
    PLATO,
    POINT,
    scenario,
)

VESTA = Target("Vesta", Kind.MINOR_BODY, nature=Orbit(2461000.0, 2.15, 0.09, 7.1, 103.8, 151.0, 3.25, 0.32))


def prospect_of_one(target: Target, start: date, nights: int = 5) -> Prospect:
    of = scenario(target, start=start, nights=nights, rule=EveningRule())
    return prospect_for(sky_of(of.site, of.season.evenings), of)


def rows_of(prospect: Prospect, nights: list[int], merits: list[float], targets: list[int]) -> Opportunities:
    """Return opportunities of an hour at every midnight, of these merits."""
    zero_s = epoch_of(prospect.sky).timestamp()
    start = ((prospect.sky.midnight_unix_s[nights] - zero_s) // 60.0).astype(np.int64)
    return Opportunities(
        epoch_of(prospect.sky), max(targets) + 1, len(prospect.sky), np.array(targets), np.array(nights),
        start, start + 60, start + 30, np.array(merits),
    )  # fmt: skip


def sight(merit: float = 0.8, lit: float = 0.42, apart_deg: float = 57.0) -> Sight:
    return Sight(10.0, 10.0, "Orion", 40.0, 180.0, lit, 20.0, apart_deg, -30.0, 120.0, merit)


def told(
    prospect: Prospect, night: int = 0, moment: datetime | None = None, minutes: float = 20.0,
    lit: float = 0.42,
) -> tuple[str, ...]:  # fmt: skip
    """Return the parts of what is said about the only target's only opportunity."""
    rows = rows_of(prospect, [night], [0.8], [0])
    moment = moment or datetime.fromtimestamp(float(prospect.sky.midnight_unix_s[night]), UTC)
    time = Span(moment - timedelta(minutes=minutes / 2), moment + timedelta(minutes=minutes / 2))
    return tuple(
        why_then(prospect, rows, 0, prospect.sky.nights[night], time, moment, sight(lit=lit)).split("; ")
    )


@pytest.mark.parametrize(
    ("merit", "said"),
    [(0.8, "shows at its best from here"), (0.77, "shows at its best from here"),
     (0.72, "shows at 90 % of its best"), (0.003, "shows at under 1 % of its best"),
     (0.4, "shows at 50 % of its best"), (0.9, "shows at its best from here")],
)  # fmt: skip
def test_a_merit_is_measured_against_the_best_of_the_season(merit: float, said: str) -> None:
    prospect = prospect_of_one(ORION, date(2027, 1, 1))
    rows = rows_of(
        prospect, [0, 1, 1], [merit, 0.8, 1.0], [0, 0, 1]
    )  # what another target does is nothing to it, nor what a moment of the stretch shows
    night = prospect.sky.nights[0]
    assert night.dark
    why = why_then(prospect, rows, 0, night, night.dark, night.dark.middle, sight(0.85))
    assert why.split("; ")[0] == said


@pytest.mark.parametrize(
    ("merits", "said"),
    [
        ([0.8, 0.71, 0.7, 0.1], "no later free night is as good"),
        ([0.8, 0.73, 0.7, 0.1], "one later free night as good"),
        ([0.8, 0.73, 0.9, 0.1], "2 later free nights as good"),
        ([0.8, 0.9, 0.9, 0.9], "3 later free nights as good"),
    ],
)
def test_later_nights_as_good_are_those_within_a_tenth(merits: list[float], said: str) -> None:
    prospect = prospect_of_one(ORION, date(2027, 1, 1))
    night = prospect.sky.nights[1]
    assert night.dark
    # an earlier night and a second stretch of the same night count for nothing
    rows = rows_of(prospect, [0, 1, 2, 3, 4], [1.0, *merits], [0] * 5)
    why = why_then(prospect, rows, 1, night, night.dark, night.dark.middle, sight(0.8))
    assert why.split("; ")[-1] == said


def test_two_stretches_of_one_later_night_are_one_night() -> None:
    prospect = prospect_of_one(ORION, date(2027, 1, 1))
    rows = rows_of(prospect, [0, 2, 2], [0.8, 0.8, 0.8], [0] * 3)
    rows.start_min[2] += 60
    rows.end_min[2] += 60
    night = prospect.sky.nights[0]
    assert night.dark
    why = why_then(prospect, rows, 0, night, night.dark, night.dark.middle, sight(0.8))
    assert why.endswith("; one later free night as good")


def test_a_planets_disc_is_that_of_its_night() -> None:
    prospect = prospect_of_one(JUPITER, date(2027, 2, 8))
    disc = looks_of(prospect.sky, ["jupiter"]).disc_arcsec[0, 2]
    said = told(prospect, 2)
    # Jupiter's opposition of 11 February 2027: 45.4" (from memory)
    assert said[1] == f"disc {disc:.0f}″" == "disc 45″"
    assert len(said) == 3  # neither Moon nor darkness matter to a planet


def test_the_sun_over_a_moon_feature_is_that_of_the_moment() -> None:
    prospect = prospect_of_one(PLATO, date(2027, 1, 15))
    midnight = datetime.fromtimestamp(float(prospect.sky.midnight_unix_s[2]), UTC)
    heights = []
    for hours in (0.0, 12.0, 24.0):
        said = told(prospect, 2, midnight + timedelta(hours=hours))[1]
        assert said.startswith("the Sun stands ")
        assert said.endswith("° high over it")
        heights.append(int(said.split()[3].rstrip("°")))
    # half a degree an hour, less by the cosine of Plato's latitude
    assert [later - heights[0] for later in heights[1:]] == pytest.approx([3.8, 7.6], abs=1.1)


def test_no_sun_stands_at_minus_nought(monkeypatch: pytest.MonkeyPatch) -> None:
    prospect = prospect_of_one(PLATO, date(2027, 1, 15))
    monkeypatch.setattr(type(prospect.moonface), "sun_altitude_deg", lambda *_: np.array(-0.3))
    assert told(prospect)[1] == "the Sun stands 0° high over it"


def test_a_minor_body_is_said_with_its_magnitude_and_the_moon() -> None:
    said = told(prospect_of_one(VESTA, date(2027, 1, 8)), 0)
    assert said[1].startswith("magnitude ")
    assert 5.0 < float(said[1].split()[1]) < 9.0
    assert said[2] == "Moon down"  # new Moon on 7 January 2027 (from memory)


@pytest.mark.parametrize(
    ("away_min", "said"),
    [(0.0, "at its minimum"), (-2.9, "at its minimum"), (47.0, "47 min after its minimum"),
     (-179.0, "179 min before its minimum"), (181.0, "3 h after its minimum"),
     (-47.0 * 60.0, "47 h before its minimum"), (48.0 * 60.0, "2 days after its minimum")],
)  # fmt: skip
def test_how_far_a_minimum_is_is_said_in_fitting_units(away_min: float, said: str) -> None:
    prospect = prospect_of_one(ALGOL, date(2027, 1, 1), 20)
    night = int(np.flatnonzero(np.isfinite(prospect.occasions.peak_unix_s[0]))[0])
    peak = datetime.fromtimestamp(float(prospect.occasions.peak_unix_s[0, night]), UTC)
    far = told(prospect, night, peak + timedelta(minutes=away_min))[1]
    assert far.split(",")[0] == said


@pytest.mark.parametrize(
    ("away_h", "phase", "then"),
    [
        (0.6, Phase.MINIMUM, "at {at:%H:%M} near 3.4 mag (2.1 mag at its brightest)"),
        (-0.6, Phase.MAXIMUM, "at {at:%H:%M} near 2.1 mag (3.4 mag at its faintest)"),
        (40.0, Phase.MINIMUM, "on {at.day} {at:%b} near 3.4 mag (2.1 mag at its brightest)"),
    ],
)
def test_a_variable_star_is_said_with_when_it_turns_by_the_sites_clock_and_how_bright_then(
    away_h: float, phase: Phase, then: str
) -> None:
    assert isinstance(ALGOL.nature, LightCurve)
    wished = replace(ALGOL, nature=replace(ALGOL.nature, phase=phase))
    of = scenario(wished, site=FLATS, start=date(2027, 1, 1), nights=20, rule=EveningRule())
    prospect = prospect_for(sky_of(of.site, of.season.evenings), of)
    night = int(np.flatnonzero(np.isfinite(prospect.occasions.peak_unix_s[0]))[0])
    peak = datetime.fromtimestamp(float(prospect.occasions.peak_unix_s[0, night]), UTC)
    at = peak.astimezone(ZoneInfo("Africa/Johannesburg"))  # two hours ahead
    said = told(prospect, night, peak + timedelta(hours=away_h))[1]
    assert said.split(", ", 1)[1] == then.format(at=at)


@pytest.mark.parametrize(
    ("mean_mag", "how_bright"),
    [(5.1, "mostly near 5.1 mag, at best 3.3 mag"), (None, "at best 3.3 mag")],
)
def test_of_a_slow_star_neither_day_nor_brightness_is_promised(
    mean_mag: float | None, how_bright: str
) -> None:
    """Maxima of Mira variables differ by weeks and magnitudes (GCVS, from memory)."""
    slow = LightCurve(3.3, 14.2, 2461423.0, 408.0, Phase.MAXIMUM, 1440.0, mean_mag)  # 17 January 2027
    prospect = prospect_of_one(replace(ALGOL, name="Slow", nature=slow), date(2027, 1, 5))
    said = told(prospect)[1]
    assert said == f"maximum about 17 Jan, weeks either way, {how_bright}"
    quick = replace(slow, period_d=79.0, wide_h=600.0)
    assert "before its maximum" in told(prospect_of_one(replace(ALGOL, nature=quick), date(2027, 1, 5)))[1]


def test_a_star_that_keeps_no_time_is_said_with_no_minimum() -> None:
    slow = replace(ALGOL, nature=LightCurve(6.0, 9.0))
    assert told(prospect_of_one(slow, date(2027, 1, 1))) == (
        "shows at its best from here", "no later free night is as good"
    )  # fmt: skip


def test_a_shower_is_said_with_its_rate_then() -> None:
    prospect = prospect_of_one(PERSEIDS, date(2027, 8, 10), 6)
    peak = datetime.fromtimestamp(float(np.nanmin(prospect.occasions.peak_unix_s)), UTC)
    night = int(np.searchsorted(prospect.sky.noon_unix_s, peak.timestamp())) - 1
    assert told(prospect, night, peak)[1] == "about 60 meteors an hour to be seen, zenithal rate 100"
    # 0.2 decades a degree, and the Sun goes 0.96 degrees a day in August
    later = told(prospect, night, peak + timedelta(days=1))[1]
    assert int(later.split()[-1]) == pytest.approx(100.0 * 10.0**-0.192, abs=1.0)


@pytest.mark.parametrize(("target", "share"), [(PERSEIDS, "25 %"), (ORION, "62 %")])
def test_of_a_shower_the_meteors_are_compared_and_not_the_merit(target: Target, share: str) -> None:
    prospect = prospect_of_one(target, date(2027, 8, 10), 4)
    rows = rows_of(prospect, [0, 1, 2, 3], [0.5, 0.8, 0.48, 0.45], [0] * 4)  # 15, 60, 14 and 12 an hour
    moment = datetime.fromtimestamp(float(prospect.sky.midnight_unix_s[0]), UTC)
    time = Span(moment - timedelta(minutes=10), moment + timedelta(minutes=10))
    parts = why_then(prospect, rows, 0, prospect.sky.nights[0], time, moment, sight(0.5)).split("; ")
    as_good = "2" if target is PERSEIDS else "3"
    assert (parts[0], parts[-1]) == (f"shows at {share} of its best", f"{as_good} later free nights as good")


# Five Millennium Canon (from memory): greatest at 2027-02-20 23:13 (penumbral, 21:12 to 01:15),
# 2028-01-12 04:13 (partial, 03:45 to 04:41), 2028-12-31 16:52 (total, 15:08 to 18:36, total 16:17 to 17:28)
@pytest.mark.parametrize(
    ("evening", "greatest", "which"),
    [
        (date(2027, 2, 20), datetime(2027, 2, 20, 23, 13, tzinfo=UTC),
         "penumbral eclipse in the night of 20 to 21 Feb 2027, from 21:12 to 01:13, only a slight shading"),
        (date(2028, 1, 11), datetime(2028, 1, 12, 4, 13, tzinfo=UTC),
         "partial eclipse in the night of 11 to 12 Jan 2028, from 03:45 to 04:41"),
        (date(2028, 12, 31), datetime(2028, 12, 31, 16, 52, tzinfo=UTC),
         "total eclipse in the night of 31 Dec 2028 to 1 Jan 2029, from 15:07 to 18:36, "
         "total from 16:16 to 17:27"),
    ],
)  # fmt: skip
def test_an_eclipse_is_said_with_its_date_its_depth_its_times_and_its_greatest(
    evening: date, greatest: datetime, which: str
) -> None:
    prospect = prospect_of_one(ECLIPSE, evening, 1)
    assert told(prospect, 0, greatest)[1:3] == (which, "at the greatest")
    assert told(prospect, 0, greatest - timedelta(minutes=20))[2].endswith("min before the greatest")


def test_a_shadow_on_jupiter_and_an_event_need_no_clock() -> None:
    shadow = Target("Shadow", Kind.ECLIPSE, body="jupiter")
    prospect = prospect_of_one(shadow, date(2027, 2, 1), 10)
    night = int(np.flatnonzero(np.isfinite(prospect.occasions.peak_unix_s[0]))[0])
    assert told(prospect, night)[1] == "a moon's shadow on the disc all through"
    start = datetime(2027, 1, 1, 20, tzinfo=UTC)
    event = Target("E", Kind.EVENT, 10.0, 10.0, nature=Occasion(start, start + timedelta(hours=6)))
    assert len(told(prospect_of_one(event, date(2027, 1, 1)))) == 2


def test_twilight_is_named_where_the_night_does_not_get_dark() -> None:
    for site, start, words in (
        (LARKMOOR, date(2027, 6, 20), "sky in nautical twilight"),
        (POINT, date(2027, 12, 1), ""),
    ):
        of = scenario(ORION, site=site, start=start, nights=1, kit=Kit(binoculars=Binoculars("B", 10, 50)))
        prospect = prospect_for(sky_of(of.site, of.season.evenings), of)
        night: Night = prospect.sky.nights[0]
        assert (night.darkness is Darkness.NIGHT) is not bool(words)
        said = told(prospect)
        assert len(said) == (4 if words else 3)
        assert said[-2].startswith("sky in " if words else "Moon")
        assert not words or night.darkness.value in said[-2]


@pytest.mark.parametrize(
    ("shift_min", "lit", "said"),
    [(-30.0, 0.42, "Moon down"), (0.0, 0.42, "Moon (42 % lit) up for 10 of 20 min"),
     (0.0, 0.004, "Moon (under 1 % lit) up for 10 of 20 min"),
     (30.0, 0.42, "Moon up, 42 % lit and 57° away"), (30.0, 0.997, "Moon up, over 99 % lit and 57° away")],
)  # fmt: skip
def test_the_moon_is_timed_against_the_visit(shift_min: float, lit: float, said: str) -> None:
    prospect = prospect_of_one(ORION, date(2027, 1, 25), 3)  # three days past full: rises in the evening
    rise = prospect.sky.nights[1].moon_up[-1].start
    assert told(prospect, 1, rise + timedelta(minutes=shift_min), lit=lit)[1] == said


def test_rings_and_phases_are_told_of_the_planets_that_have_them() -> None:
    saturn = replace(JUPITER, name="Saturn", body="saturn")
    venus = replace(JUPITER, name="Venus", body="venus")
    # Venus in December 2026 (from memory): a crescent or near it
    assert "rings open" in "; ".join(told(prospect_of_one(saturn, date(2027, 10, 15))))
    assert "% lit" in "; ".join(told(prospect_of_one(venus, date(2026, 12, 10))))
    plain = "; ".join(told(prospect_of_one(JUPITER, date(2027, 2, 10))))
    assert "disc 4" in plain
    assert "lit" not in plain
    assert "rings" not in plain


# From memory: Uranus is of magnitude 5.6 about its opposition of November, Neptune of 7.8, Jupiter of -2.6.
@pytest.mark.parametrize(("body", "mag"), [("uranus", 5.6), ("neptune", 7.8)])
def test_a_planet_no_eye_finds_at_once_is_told_with_its_magnitude(body: str, mag: float) -> None:
    said = told(prospect_of_one(replace(JUPITER, name=body, body=body), date(2026, 11, 20)))[1]
    assert said.startswith("magnitude ")
    assert float(said.split()[1]) == pytest.approx(mag, abs=0.15)
    assert "magnitude" not in "; ".join(told(prospect_of_one(JUPITER, date(2027, 2, 10))))


@pytest.mark.parametrize(
    ("longitude_deg", "latitude_deg", "where"),
    [
        (59.1, 17.0, "right side of the disc"), (-56.0, 56.0, "upper left"), (-11.2, -43.3, "bottom"),
        (26.0, -58.0, "bottom"), (45.0, -50.0, "lower right"), (0.0, 0.0, "middle"), (-9.0, 51.6, "top"),
    ],
)  # fmt: skip
def test_a_feature_is_found_on_a_chart_with_north_up(
    longitude_deg: float, latitude_deg: float, where: str
) -> None:
    assert place_on_the_moon(longitude_deg, latitude_deg).startswith(where)
