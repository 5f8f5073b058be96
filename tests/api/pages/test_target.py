"""The page of one target, of a year the real scheduler planned."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any, cast

import pytest

from api.auth import first_key, made_key
from api.door import scheduler_door
from api.page import day_words, long_day_words
from api.pages.answered import points
from api.pages.standing import standing_of
from api.pages.target import Answers, told_of
from api.storage import JobState, NewKey, NewScenario, Role, Work
from scheduler.domain import Reason, Span, Unplaced, Visit, ignore_progress, never_cancelled
from scheduler.errors import InvalidValue

from ..journeys import assert_is_problem
from .real_year import FILES, HOSTILE, Year, answered, kept_year, planned
from .stored import kept, stored

PAGE = {"Accept": "text/html"}
COSTS, GIVES = "What would another night cost?", "What would give it a visit?"


def visit_of(name: str) -> Visit:
    return next(one for one in planned()[1].visits if one.target == name)


def spanned(time: Span) -> str:
    """Return a time in words; in February the clocks of London show UTC."""
    return f"{time.start:%H:%M} to {time.end:%H:%M}"


def words_of(answer: Any) -> str:
    """Return what a page says, without its marks, blanks tidied."""
    main = answer.text[answer.text.index("<main") : answer.text.index("</main>")]
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", main)).split())


def shown(year: Year, name: str, **query: str) -> str:
    answer = year.get(f"/target/{year.scenario}", params={"name": name, **query}, headers=PAGE)
    assert answer.status_code == 200, answer.text
    return words_of(answer)


def asked(year: Year, name: str, **fields: Any) -> Any:
    return year.post(f"/target/{year.scenario}", plan=year.plan, name=name, **fields)


def test_what_the_plan_says_of_a_target_is_told_at_once(year: Year) -> None:
    visit, told = visit_of("M 1"), shown(year, "M 1")
    odds = planned()[1].odds
    assert odds is not None
    mine = odds.of("M 1")
    (shows,) = (one for one in planned()[1].showing if one.target == "M 1")
    for words in (
        "M 1, Crab Nebula", "Supernova remnant", "Constellation Taurus", "8.4 mag, 6.0′ by 4.0′",
        "4 of 5: wanted much", "1 visit of 20 min", "Lowest altitude 20°",
        f"{long_day_words(visit.evening)} , {spanned(visit.time)}", "(Europe/London)",
        f"{visit.sight.altitude_deg:.0f}° up in the {visit.sight.direction}, Moon down; clear odds 40 %",
        f"merit {visit.sight.merit:.2f} of 1", visit.pointing.words, visit.view.why[1:], visit.why[1:],
        f"{100 * mine.completion_odds:.0f} % ± {100 * mine.standard_error:.0f} of 30 weather years",
        f"It shows on {sum(shows.shown_nights)} of your free nights",
        f"Last good nights: {', '.join(day_words(one) for one in mine.last_nights[-3:])}.",
    ):  # fmt: skip
        assert words in told, words


def test_a_target_without_a_visit_tells_the_rule_that_binds(year: Year) -> None:
    told = shown(year, "M 7")
    assert "No visit is planned. A visit is missing Never above 20° from here: it culminates at 2.6°." in told
    assert "0 % of 30 weather years" in told
    assert "It never shows well enough on your free nights." in told


def test_what_another_night_would_cost_is_asked_once_and_shown_at_once(year: Year) -> None:
    evening = visit_of("M 1").evening
    assert COSTS in shown(year, "M 1")
    job = year.job_at(asked(year, "M 1", evening=evening))
    assert (job.work, job.wish) == (
        Work.WHY, {"plan": year.plan, "target": "M 1", "evening": evening.isoformat()},
    )  # fmt: skip
    assert year.job_at(asked(year, "M 1", evening=evening)).id == job.id
    assert "What another night would cost is being worked out" in shown(year, "M 1")
    year.work_out(job)
    assert year.job_at(asked(year, "M 1", evening=evening)).id == job.id
    assert len(year.jobs(Work.WHY)) == 1
    told = shown(year, "M 1")
    assert COSTS not in told
    assert told == shown(year, "M 1")
    then = json.loads(answered(Work.WHY, **job.wish))["then"]
    other = then["alternatives"][0]
    evening, moved = date.fromisoformat(other["evening"]), {one["target"] for one in other["gives_way"]}
    time = Span(*(datetime.fromisoformat(other["time"][end]) for end in ("start", "end")))
    assert other["cost"] > 0.05
    assert moved
    for words in (
        f"This visit is worth {points(then['worth'])} to the plan, second chances included.",
        f"{long_day_words(evening)}, {spanned(time)}: costs {points(other['cost'])}",
        "What moves with it: ", *moved,
    ):  # fmt: skip
        assert words in told, words


def test_the_answer_has_an_address_of_its_own(year: Year) -> None:
    job = year.job_at(asked(year, "M 79"))
    waiting = year.get(f"/answer/{job.id}", headers=PAGE)
    assert '<noscript><meta http-equiv="refresh" content="5"></noscript>' in waiting.text
    assert f'id="work" data-job="{job.id}"' in waiting.text
    assert "Waiting for its turn." in words_of(waiting)
    year.work_out(job)
    told = words_of(year.get(f"/answer/{job.id}", headers=PAGE))
    assert "refresh" not in year.get(f"/answer/{job.id}", headers=PAGE).text
    for words in (
        "A visit for M 79", "Why a visit is missing", "it culminates at 12.9°.", "From 12° up for M 79",
        "never point a telescope, finder or binoculars near it", "Tried without help: one weekday more",
    ):  # fmt: skip
        assert words in told, words
    assert "From 12° up for M 79" in shown(year, "M 79")


def test_a_question_that_failed_or_was_stopped_can_be_asked_again(year: Year) -> None:
    first = year.job_at(asked(year, "M 7"))
    assert year.job_at(year.post(f"/answer/{first.id}/cancel")).state is JobState.CANCELLED
    assert "It was stopped; there is no answer." in words_of(year.get(f"/answer/{first.id}", headers=PAGE))
    second = year.job_at(asked(year, "M 7"))
    assert second.id != first.id
    problem = {"type": "/problems/out-of-time", "title": "The work took too long", "detail": "not after 30"}
    assert year.storage.jobs.begin(second.id)
    year.storage.jobs.stop(second.id, problem)
    told = words_of(year.get(f"/answer/{second.id}", headers=PAGE))
    assert "The work took too long. not after 30 Ask for fewer seconds or fewer years" in told
    third = year.job_at(year.post(f"/answer/{second.id}/again"))
    assert third.id not in {first.id, second.id}
    assert third.wish == second.wish
    assert year.job_at(asked(year, "M 7")).id == third.id
    assert GIVES not in shown(year, "M 7")
    assert year.job_at(year.post(f"/answer/{third.id}/cancel")).state is JobState.CANCELLED
    assert year.job_at(year.post(f"/answer/{third.id}/cancel")).state is JobState.CANCELLED
    assert GIVES in shown(year, "M 7")


def test_what_the_log_says_of_it_is_told_and_a_done_target_wants_nothing_more(year: Year) -> None:
    evening = visit_of("Rigel").evening
    assert "In the log Nothing yet." in shown(year, "Rigel")
    year.log(evening, seen_poorly=["M 1"], not_seen=["M 35"], seen=["Rigel"])
    assert f"In the log {evening:%A} 14 February 2031: seen" in shown(year, "Rigel")
    assert "seen poorly, still wanted" in shown(year, "M 1")
    assert "tried, not seen" in shown(year, "M 35")
    assert "The log or the scenario has changed since this plan was made." in shown(year, "M 35")
    plan = planned()[1]
    rest = tuple(one for one in plan.visits if one.target != "Rigel")
    kept(year.storage, year.scenario, replace(plan, version=2, visits=rest))
    told = shown(year, "Rigel")
    assert "It is done, by the log." in told
    assert "It is done already: no odds are left to tell." in told
    assert "weather years" not in told
    assert "It never shows well enough" not in told


def test_announced_and_past_nights_offer_no_other_night(tmp_path: Path) -> None:
    visit = visit_of("M 1")
    client, year = kept_year(tmp_path, replace(planned()[1], announced=(visit.evening,)))
    with client:
        told = shown(year, "M 1")
        assert "Announced: it stands." in told
        assert COSTS not in told
        assert COSTS in shown(year, "M 42"), "one of its visits is on another night"
        standing = standing_of(cast(Any, client.app).state.services, year.scenario)
        assert standing is not None
        target = next(one for one in standing.plan.targets if one.name == "M 1")
        for today, past in ((visit.evening, False), (visit.evening + timedelta(days=1), True)):
            placed = told_of(replace(standing, today=today), target, Answers({}, None, {})).visits
            assert [one.past for one in placed] == [past]
    year.storage.close()


def test_other_names_lead_to_the_page_and_unknown_ones_to_near_ones(year: Year) -> None:
    for name in ("crab nebula", " m 1 ", "M1"):
        led = year.get(f"/target/{year.scenario}", params={"name": name}, headers=PAGE)
        assert led.headers["location"] == f"/target/{year.scenario}?name=M+1"
    for name, near in (("M 4", "M 42"), ("Orion Nebul", "M 42"), ("Orion", "M 42"), ("", "Which target?")):
        answer = year.get(f"/target/{year.scenario}", params={"name": name}, headers=PAGE)
        assert answer.status_code == 404
        assert near in words_of(answer)


@pytest.mark.parametrize(
    "name", [HOSTILE, "</title><script>alert(1)</script>", '" autofocus onfocus=alert(1) x="']
)
def test_a_hostile_name_stays_text(year: Year, name: str) -> None:
    answer = year.get(f"/target/{year.scenario}", params={"name": name}, headers=PAGE)
    assert answer.status_code == (200 if name == HOSTILE else 404)
    assert name in unescape(answer.text)
    assert name not in answer.text
    assert "49" not in words_of(answer).split()


def test_only_visits_of_the_scenarios_own_plans_can_be_asked_about(year: Year) -> None:
    strange = stored(year.storage, planned()[1], "another year").plan
    wrong: dict[str, dict[str, object]] = {
        "plan": {"plan": strange, "name": "M 1"}, "name": {"plan": year.plan, "name": "M 4"},
        "evening": {"plan": year.plan, "name": "M 1", "evening": date(2031, 2, 15)},
    }  # fmt: skip
    for fields in wrong.values():
        assert_is_problem(year.post(f"/target/{year.scenario}", **fields), 404, "no-such-thing")
    answer = year.get(f"/target/{year.scenario}", params={"name": "M 1", "plan": strange}, headers=PAGE)
    assert answer.status_code == 404
    assert year.jobs(Work.WHY) == ()


def test_an_older_plan_is_told_as_such_with_its_own_answers(year: Year) -> None:
    evening = visit_of("M 1").evening
    year.work_out(year.job_at(asked(year, "M 1", evening=evening)))
    kept(year.storage, year.scenario, replace(planned()[1], version=2))
    assert COSTS in shown(year, "M 1"), "the newest plan was not asked"
    old = shown(year, "M 1", plan=year.plan)
    assert "As version 1 has it, an older plan." in old
    assert "This visit is worth 2.6 points" in old


def test_readers_see_answers_and_cannot_ask(tmp_path: Path) -> None:
    client, year = kept_year(tmp_path, keys="required")
    with client:
        first_key(year.storage)
        club = year.storage.scenarios.get(year.scenario).club
        _, token = made_key(year.storage, NewKey(club, Role.READER, "tablet"))
        client.headers["Authorization"] = f"Bearer {token}"
        assert "Last good nights" in shown(year, "M 1")
        assert COSTS not in shown(year, "M 1")
        told = words_of(year.get(f"/ask/{year.scenario}", headers=PAGE))
        assert "Members of the club can ask" in told
        assert "Thursdays" not in told
    year.storage.close()


def test_a_scenario_without_a_plan_leads_to_its_year(year: Year) -> None:
    record = year.storage.scenarios.get(year.scenario)
    new = NewScenario("bare", "", 8, record.season_start, 28, FILES)
    bare = year.storage.scenarios.add(record.club, new).id
    led = year.get(f"/target/{bare}", params={"name": "M 1"}, headers=PAGE)
    assert led.headers["location"] == f"/year/{bare}"


def test_what_is_missing_is_told_although_the_next_visit_is_announced() -> None:
    read, plan = planned()
    first, second = (one for one in plan.visits if one.target == "M 42")
    plan = replace(
        plan, announced=(first.evening,), visits=tuple(one for one in plan.visits if one is not second),
        unplaced=(*plan.unplaced, Unplaced("M 42", 1, Reason.NIGHTS_FULL, "every suitable night is full")),
    )  # fmt: skip
    ask = scheduler_door().answers["why"]
    told = json.loads(ask(plan, read, {"target": "M 42"}, ignore_progress, never_cancelled))
    assert told["then"] is None
    assert told["not"]["words"] == "every suitable night is full"
    with pytest.raises(InvalidValue, match="what was announced stands"):
        ask(plan, read, {"target": "M 1"}, ignore_progress, never_cancelled)


def test_dates_in_reasons_are_told_as_days(tmp_path: Path) -> None:
    plan = planned()[1]
    late = replace(plan.unplaced[0], target="M 7", words="2031-02-15 <b> is no longer a free evening")
    client, year = kept_year(
        tmp_path, replace(plan, unplaced=(late,), notes=("the log goes on to 2031-02-21",))
    )
    with client:
        assert "Sat 15 Feb <b> is no longer a free evening." in shown(year, "M 7")
        for page in ("year", "wishes"):
            told = words_of(year.get(f"/{page}/{year.scenario}", headers=PAGE))
            assert "M 7 : Sat 15 Feb <b> is no longer a free evening" in told
            assert "2031-02-15" not in told
        assert "the log goes on to Fri 21 Feb" in words_of(year.get(f"/year/{year.scenario}", headers=PAGE))
    year.storage.close()


def test_what_is_only_over_a_figure_has_no_error_beside_it(tmp_path: Path) -> None:
    plan = planned()[1]
    assert plan.odds is not None
    sure = tuple(replace(one, completion_odds=1.0, standard_error=0.01) for one in plan.odds.targets)
    client, year = kept_year(tmp_path, replace(plan, odds=replace(plan.odds, targets=sure)))
    with client:
        told = shown(year, "M 1")
        assert "over 99 % of 30 weather years" in told
        assert "±" not in told
    year.storage.close()
