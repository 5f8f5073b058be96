"""Visits, standbys and what is left out, on a real sky."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from scheduler.domain import Guests
from scheduler.programme import LINGER_MIN, STANDBYS_A_NIGHT, STANDBYS_FOR_GUESTS, Writer
from scheduler.sky.season import sky_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.opportunities import opportunities_of
from scheduler.visibility.prospect import prospect_for
from scheduler.visibility.sights import sights_of
from tests.small_season import ALBIREO, ALGOL, ANDROMEDA, HERCULES, JUPITER, OMEGA, ORION, scenario

WISHED = scenario(ORION, ANDROMEDA, JUPITER, replace(ALBIREO, ra_deg=60.0), HERCULES, OMEGA, nights=6)

NONE = np.array([], dtype=np.int64)


@pytest.fixture(scope="module")
def writer() -> Writer:
    sky = sky_of(WISHED.site, WISHED.season.evenings)
    free = free_nights_of(WISHED, sky.nights, [0.4] * len(sky))
    prospect = prospect_for(sky, WISHED)
    return Writer(prospect, free, opportunities_of(prospect, free, WISHED.routine))


def row_of(writer: Writer, target: int, night: int) -> int:
    rows = writer.opportunities
    return int(np.flatnonzero((rows.target == target) & (rows.night == night))[0])


def test_visits_are_numbered_in_order_of_time_night_by_night(writer: Writer) -> None:
    rows = np.array([row_of(writer, 1, 2), row_of(writer, 0, 0), row_of(writer, 1, 0)])
    starts = writer.opportunities.start_min[rows]
    starts[1] += 60
    visits = writer.visits(rows, starts)
    assert [visit.time.start for visit in visits] == sorted(visit.time.start for visit in visits)
    assert [visit.order for visit in visits if visit.evening == date(2027, 1, 1)] == [1, 2]
    assert [visit.order for visit in visits if visit.evening == date(2027, 1, 3)] == [1]
    assert all(visit.time.minutes == 20 for visit in visits)


def test_visits_settle_near_their_best_moments_and_keep_apart(writer: Writer) -> None:
    rows = np.array([row_of(writer, target, 0) for target in (0, 1, 3)])
    early = writer.opportunities.start_min[rows].max() + np.array([0, 60, 30])
    settled = writer.settled(rows, early, 4)
    minutes = np.array([20, 20, 10])
    best = writer.opportunities.best_min[rows]
    assert np.abs(settled + minutes / 2 - best).sum() < np.abs(early + minutes / 2 - best).sum()
    order = np.argsort(settled)
    assert (settled[order][1:] - settled[order][:-1] >= minutes[order][:-1] + 4).all()
    assert (settled >= writer.opportunities.start_min[rows]).all()
    assert (settled + minutes <= writer.opportunities.end_min[rows]).all()


def test_standbys_are_the_best_three_not_on_the_programme(writer: Writer) -> None:
    rows = writer.opportunities
    advantage = np.random.default_rng(1).random(len(rows))
    visited = np.array([row_of(writer, 0, 0)])
    start_min = rows.start_min[visited] + 60  # when all others show within the hour
    standbys = writer.standbys(advantage, visited, start_min)
    for night in writer.free:
        here = [standby for standby in standbys if standby.evening == night.evening]
        assert len(here) == STANDBYS_A_NIGHT
        assert [standby.order for standby in here] == [1, 2, 3]
        assert len({standby.target for standby in here}) == 3
        position = writer.free.index(night)
        names = [writer.prospect.targets[target].name for target in rows.target]
        best = [
            max(
                advantage[row]
                for row in range(len(rows))
                if rows.night[row] == position and names[row] == s.target
            )
            for s in here
        ]
        assert best == sorted(best, reverse=True)
    assert not any(s.target == "M 42" and s.evening == writer.free[0].evening for s in standbys)


def test_a_standbys_best_moment_lies_in_its_window(writer: Writer) -> None:
    standbys = writer.standbys(np.ones(len(writer.opportunities)), NONE, NONE)
    assert all(standby.window.start <= standby.best <= standby.window.end for standby in standbys)
    assert all(standby.window.minutes >= 10 for standby in standbys)


def test_targets_with_too_few_visits_are_explained(writer: Writer) -> None:
    rows = np.array([row_of(writer, target, 0) for target in (0, 1, 2, 3)])
    starts = writer.opportunities.start_min[rows] + np.array([0, 30, 60, 90])
    visits = writer.visits(rows, starts)
    unplaced = writer.unplaced(WISHED.routine, WISHED.availability, visits)
    assert [(entry.target, entry.missing) for entry in unplaced] == [("M 13", 1), ("NGC 5139", 1)]


def test_a_planets_place_is_given_in_the_icrs(writer: Writer) -> None:
    # astrometric place from skyfield, DE421; ours keeps aberration, 20" at most
    from skyfield.api import load

    from scheduler.sky.ephemeris import ephemeris

    row = row_of(writer, 2, 0)
    (visit,) = writer.visits(np.array([row]), writer.opportunities.start_min[[row]])
    middle = visit.time.start + timedelta(minutes=visit.time.minutes / 2)
    earth, jupiter = ephemeris()["earth"], ephemeris()["jupiter barycenter"]
    ra, dec, _ = earth.at(load.timescale(builtin=True).from_datetime(middle)).observe(jupiter).radec()
    assert visit.sight.ra_deg == pytest.approx(ra.hours * 15.0, abs=0.008)
    assert visit.sight.dec_deg == pytest.approx(dec.degrees, abs=0.008)
    assert visit.sight.constellation == "Leo"


def test_the_why_speaks_of_the_moon_to_faint_targets_only(writer: Writer) -> None:
    rows = np.array([row_of(writer, target, 0) for target in (0, 2)])
    faint, planet = sorted(
        writer.visits(rows, writer.opportunities.start_min[rows]), key=lambda visit: visit.target == "Jupiter"
    )
    assert "Moon" in faint.why
    assert "Moon" not in planet.why
    assert "later free night" in faint.why


def test_visits_are_looked_at_in_their_middle_and_standbys_at_their_best(writer: Writer) -> None:
    rows = np.array([row_of(writer, 2, 0)])  # Jupiter rises in the evening: its altitude tells the time
    (visit,) = writer.visits(rows, writer.opportunities.start_min[rows])
    advantage = np.where(writer.opportunities.target == 2, 2.0, 1.0)
    standby = writer.standbys(advantage, NONE, NONE)[0]
    assert standby.target == "Jupiter"
    for entry, moment in ((visit, visit.time.middle), (standby, standby.best)):
        at = np.array([moment.timestamp()])
        (sight,) = sights_of(writer.prospect, np.array([2]), np.array([0]), at)
        assert entry.sight == sight


def test_beside_a_programme_standbys_are_of_use_while_the_observer_is_out(writer: Writer) -> None:
    rows, evening = writer.opportunities, writer.free[0].evening
    late = row_of(writer, 2, 0)  # Jupiter, in the last of the free time
    start_min = rows.end_min[[late]] - writer.prospect.minutes[2]
    every = [one for one in writer.standbys(np.ones(len(rows)), NONE, NONE) if one.evening == evening]
    beside = writer.standbys(np.ones(len(rows)), np.array([late]), start_min)
    first = rows.moment(int(start_min[0]))
    assert any(one.window.end < first for one in every)  # in hand the whole free time counts
    out = [one for one in beside if one.evening == evening]
    assert out
    minutes = {target.name: target.minutes for target in WISHED.targets}
    for one in out:
        room = one.window.end - max(first, one.window.start)
        assert room >= timedelta(minutes=minutes[one.target])
        assert one.best >= first


def test_time_left_is_an_hour_after_the_last_visit(writer: Writer) -> None:
    rows, evening = writer.opportunities, writer.free[0].evening
    early = row_of(writer, 0, 0)
    start_min = rows.start_min[[early]]
    end = rows.moment(int(start_min[0]) + 20 + LINGER_MIN)
    beside = writer.standbys(np.ones(len(rows)), np.array([early]), start_min)
    out = [one for one in beside if one.evening == evening]
    assert out
    assert all(one.window.start < end and one.best <= end for one in out)
    bests = [rows.moment(int(best)) for best in rows.best_min[rows.night == 0]]
    assert max(bests) > end


def test_a_standby_says_why_its_best_moment_is_good() -> None:
    of = scenario(ALGOL, nights=30)
    sky = sky_of(of.site, of.season.evenings)
    free, prospect = free_nights_of(of, sky.nights, [0.4] * len(sky)), prospect_for(sky, of)
    told = Writer(prospect, free, opportunities_of(prospect, free, of.routine))
    standbys = told.standbys(np.ones(len(told.opportunities)), NONE, NONE)
    uneven = [one for one in standbys if abs(one.window.middle - one.best) > timedelta(minutes=30)]
    assert uneven
    for standby in uneven:
        peaks = prospect.occasions.peak_unix_s[0]
        away_min = np.nanmin(np.abs(peaks - standby.best.timestamp())) / 60.0
        said = "at its minimum" if away_min < 3.0 else f"{away_min:.0f} min "
        assert said in standby.why


def test_guests_have_eight_standbys() -> None:
    bright = replace(ORION, dec_deg=45.0, magnitude=4.0)
    wished = [replace(bright, name=f"S{n}", ra_deg=60.0 + 3.0 * n) for n in range(12)]
    evening = date(2027, 1, 2)
    of = scenario(*wished, nights=3, guests=Guests(frozenset({evening}), 5, 1.0))
    sky = sky_of(of.site, of.season.evenings)
    free, prospect = free_nights_of(of, sky.nights, [0.4] * len(sky)), prospect_for(sky, of)
    told = Writer(prospect, free, opportunities_of(prospect, free, of.routine, of.guests))
    standbys = told.standbys(np.ones(len(told.opportunities)), NONE, NONE)
    count = Counter(standby.evening for standby in standbys)
    assert [count[one.evening] for one in free] == [STANDBYS_A_NIGHT, STANDBYS_FOR_GUESTS, STANDBYS_A_NIGHT]
