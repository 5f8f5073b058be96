"""What members are told of nights: what it is, where and when, and the same words while it stays the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from scheduler.domain import Change, ChangeReason, Club, Night, Observer, Outcome, Plan, Span, Went
from scheduler.notices import IN_TITLE, MOST_LINES, TAKE_CARE, Notice, notices_of
from tests.scheduler.planted_people import CLUB_AWAY, LINNET, SOUND, WREN
from tests.scheduler.planted_trips import away, trip_plan
from tests.small_plan import (
    CRAB,
    FIRST,
    ORION,
    SEASON,
    SECOND,
    SITE,
    TARGETS,
    night,
    plan,
    utc,
    visit,
    with_nights,
    with_visit,
)


def told(found: Plan) -> dict[str, Notice]:
    """Return the notices by evening: first, second."""
    names = {FIRST: "first", SECOND: "second"}
    return {names[one.evening]: one for one in notices_of(found).nights}


def text_of(notice: Notice) -> str:
    return "\n".join(notice.lines)


def test_a_night_is_told_from_meeting_to_the_last_thing_packed_by_the_clock_of_the_site() -> None:
    first = told(plan())["first"]
    assert (first.evening, first.place, first.clear_odds) == (FIRST, "Larkmoor", 0.4)
    assert (first.start, first.end) == (utc(FIRST, 18), utc(FIRST, 20, 35))
    assert first.lines[:6] == (
        "Meet at 18:00 at Larkmoor, packed by 20:35 (Europe/London).",
        "Moon: waxing crescent, 1 % lit at midnight, sets 17:00; the 12 h of dark are moonless.",
        "Darkest from 18:00 to 06:00; 6 h of it while you are free, moonless.",
        "",
        "18:20 Jupiter (planet): south, 40° up; 48x",
        "20:00 M 42 (deep-sky object): south, 40° up; 48x",
    )
    summer = replace(plan(), site=replace(SITE, zone="Asia/Kathmandu"))
    assert told(summer)["first"].start == first.start
    assert told(summer)["first"].lines[0] == "Meet at 23:45 at Larkmoor, packed by 02:20 (Asia/Kathmandu)."


def test_a_title_names_what_counts_most_and_counts_the_rest() -> None:
    names = ["M 42", "M 1", "Jupiter", "NGC 5139"]
    targets = tuple(replace(one, priority=2 + names.index(one.name)) for one in TARGETS)
    visits = [visit(name, FIRST, order, 18 + order, 0, 20) for order, name in enumerate(names, start=1)]
    assert len(names) == IN_TITLE + 1

    def title(count: int) -> str:
        return told(with_nights(night(FIRST), targets=targets, visits=tuple(visits[:count])))["first"].title

    assert [title(count) for count in (1, 2, 4)] == [
        "Night out: M 42", "Night out: M 1, M 42", "Night out: NGC 5139, Jupiter, M 1 and 1 more"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("found", "title", "categories", "place"),
    [
        (plan(), "Night out: M 1", ("Observing",), "Larkmoor"),
        (trip_plan(), "Trip to Moss: M 1", ("Observing", "Trip"), "Moss"),
        (CLUB_AWAY, "Club night: M 1", ("Observing", "Club night", "Trip"), "Moss"),
        (with_nights(replace(night(SECOND), guests=3), visits=plan().visits[2:]), "Night with guests: M 1",
         ("Observing", "Guests"), "Larkmoor"),
    ],
    ids=["out", "trip", "club", "guests"],
)  # fmt: skip
def test_each_sort_of_night_says_what_it_is(
    found: Plan, title: str, categories: tuple[str, ...], place: str
) -> None:
    second = told(found)["second"]
    assert (second.title, second.categories, second.place) == (title, categories, place)


def test_a_trip_tells_when_to_leave_home_and_when_one_is_back() -> None:
    lines = told(trip_plan(night(FIRST), away()))["second"].lines
    assert lines[0] == "Meet at 19:30 at Moss, packed by 20:35 (Europe/London)."
    assert lines[1] == "Leave home at 19:20, back about 20:45: 10 min by road each way."


def test_who_comes_along_is_told_where_it_is_not_everybody() -> None:
    found = told(SOUND["an observer away"])
    assert (found["first"].observers, found["second"].observers) == (("Wren", "Linnet"), ("Wren",))
    assert "With Wren." in found["second"].lines
    assert not [line for line in found["first"].lines if line.startswith("With ")]
    everybody = with_nights(night(FIRST), replace(night(SECOND), club=True), observers=(WREN, LINNET),
                            club=Club(frozenset({SECOND})))  # fmt: skip
    assert "With Wren and Linnet." in told(everybody)["second"].lines


def test_a_free_night_without_programme_is_told_only_where_people_count_on_it() -> None:
    bare = plan().visits[:2]
    assert told(replace(plan(), visits=bare)).keys() == {"first"}
    guests = with_nights(night(FIRST), replace(night(SECOND), guests=2), visits=bare)
    second = told(guests)["second"]
    assert second.title == "Night with guests: M 42"
    heading = "Nothing is fixed. What to look at, most useful first:"
    assert second.lines[second.lines.index(heading) + 1].startswith("21:00 M 42 (")
    club = told(with_nights(night(FIRST), replace(night(SECOND), club=True), visits=bare, standbys=()))[
        "second"
    ]
    assert club.title == "Club night"
    assert (club.start, club.end) == (night(SECOND).free.start, night(SECOND).free.end)


def test_a_crowded_night_names_so_many_and_counts_the_rest() -> None:
    crowd = tuple(replace(ORION, name=f"Star {n}") for n in range(MOST_LINES + 3))
    visits = tuple(visit(one.name, FIRST, n + 1, 18, 5 * n, 5) for n, one in enumerate(crowd))
    lines = told(with_nights(night(FIRST), targets=crowd, visits=visits))["first"].lines
    assert [line for line in lines if "(deep-sky object)" in line][-1].split()[1:3] == [
        "Star",
        str(MOST_LINES - 1),
    ]
    assert "and 3 more" in lines


def test_nobody_learns_from_a_notice_where_the_site_lies() -> None:
    lair = replace(SITE, latitude_deg=55.23457, longitude_deg=-2.41973, elevation_m=241.7)
    for found in (plan(), trip_plan(), CLUB_AWAY):
        words = repr(notices_of(replace(found, site=lair)))
        for number in ("55.2", "2.41", "2.42", "241.7", "54.9", "-2.9"):
            assert number not in words


def test_two_plans_that_share_a_night_tell_it_with_the_same_words() -> None:
    other = with_visit(2, target="M 42", time=Span(utc(SECOND, 22), utc(SECOND, 22, 20)))
    other = replace(
        other, version=9, seed=4, objective=1.0, bound=2.0, standbys=(), unplaced=plan().unplaced[:1],
        notes=("Something else.",), log=(Outcome(FIRST - timedelta(days=3), Went.CLOUDED_OUT),),
        availability=replace(plan().availability, nights_per_month=9),
    )  # fmt: skip
    assert told(other)["first"] == told(plan())["first"]
    assert told(other)["second"] != told(plan())["second"]
    likelier = with_nights(replace(night(FIRST), clear_odds=0.7), night(SECOND))
    assert told(likelier)["first"] == replace(told(plan())["first"], clear_odds=0.7)


def test_the_moon_has_the_phase_the_diary_of_the_plan_gives_her() -> None:
    """How far she moves in a day is read from the nights around: 6.6° is full only where that is much."""

    def moonlit(day: int, angle_deg: float, *, waxing: bool) -> Night:
        sky = night(FIRST + timedelta(days=day)).night
        return replace(sky, moon_phase_angle_deg=angle_deg, moon_waxing=waxing)

    phases = {}
    for before_deg, after_deg in ((2.0, 13.0), (13.0, 2.0)):
        diary = (moonlit(-1, before_deg, waxing=True), moonlit(0, 6.6, waxing=False),
                 moonlit(1, after_deg + 6.0, waxing=False))  # fmt: skip
        free = replace(night(FIRST), night=diary[1])
        found = with_nights(free, visits=plan().visits[:2], standbys=(), diary=diary)
        phases[before_deg] = told(found)["first"].lines[1].split(",")[0]
    assert phases == {2.0: "Moon: waning gibbous", 13.0: "Moon: full Moon"}


def test_a_plan_is_about_the_nights_after_the_last_one_logged() -> None:
    assert notices_of(plan()).open_from == SEASON.start
    logged = replace(plan(), log=(Outcome(FIRST, Went.CLEAR, seen=("M 42",)),))
    found = notices_of(logged)
    assert found.open_from == FIRST + timedelta(days=1)
    assert [one.evening for one in found.nights] == [SECOND]


def test_every_evening_is_told_what_became_of_it_and_why() -> None:
    jupiter, orion, crab = plan().visits
    moved = replace(orion, evening=SECOND, time=Span(utc(SECOND, 22), utc(SECOND, 22, 20)))
    shifted = replace(jupiter, time=Span(utc(FIRST, 18, 30), utc(FIRST, 18, 45)))
    change = Change("M 42", FIRST, SECOND, ChangeReason.CLOUDED_OUT, "2027-01-08 was clouded out")
    gone = Change("M 1", SECOND, None, ChangeReason.GIVEN_UP, "another night is worth more")
    later = replace(plan(), version=2, visits=(shifted, moved), changes=(change, gone))
    assert notices_of(later, plan()).amends == {
        "2027-01-08": ("Jupiter at another time", "M 42 moved to 15 Jan: 2027-01-08 was clouded out"),
        "2027-01-15": ("M 42 moved here from 08 Jan: 2027-01-08 was clouded out",
                       "M 1 taken off: another night is worth more"),
    }  # fmt: skip
    came = replace(crab, target="NGC 5139", time=Span(utc(SECOND, 22), utc(SECOND, 22, 20)))
    without = replace(plan(), version=3, visits=(*plan().visits, came))
    assert notices_of(without, plan()).amends == {"2027-01-15": ("NGC 5139 added",)}
    assert CRAB.name not in repr(notices_of(without, plan()).amends)


def test_an_older_plan_published_after_a_newer_one_gives_no_reasons() -> None:
    newer = replace(with_visit(2, target="M 42", time=Span(utc(SECOND, 22), utc(SECOND, 22, 20))), version=2)
    assert notices_of(plan(), newer).amends == {}
    assert notices_of(newer, newer).amends == {}
    assert notices_of(newer, plan()).amends.keys() == {"2027-01-15"}
    assert notices_of(plan(), newer).nights == notices_of(plan()).nights


def test_an_observer_alone_needs_no_name() -> None:
    assert told(replace(plan(), observers=(Observer("Jory"),)))["first"].observers == ("Jory",)


def test_an_event_warns_in_short_and_its_page_at_length() -> None:
    for found in (plan(), trip_plan(), CLUB_AWAY):
        second = told(found)["second"]
        assert second.lines[-1] == TAKE_CARE
        assert second.lines[-2].startswith("Bring: 200 mm f/6, mount and finder; ")
        assert "red lamp" not in text_of(second)
        assert "red lamp" in second.care[0]
        assert any("Sun" in words for words in second.care)
        assert any("drive" in words.lower() or "driving" in words.lower() for words in second.care)
