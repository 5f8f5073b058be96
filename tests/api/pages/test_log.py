"""Logging a night by the form: what it asks, what it keeps, and that nothing is kept twice or lost."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from api.auth import made_key
from api.logged import added_to_log
from api.pages.silent import count_as_past, unlogged_of
from api.pages.standing import standing_of
from api.storage import NewKey, NewOutcome, Role
from api.storage.jobs import StoredJobs
from scheduler.domain import Change, ChangeReason
from scheduler.domain.outcome import COUNTED_AS_PAST

from ... import small_plan
from ..journeys import assert_is_problem
from .desk import FRIDAY, WISHES, Desk, a_desk, without

SECOND = "2027-01-15"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with a_desk(tmp_path) as opened:
        yield opened


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A desk whose log stays empty."""
    with a_desk(tmp_path_factory.mktemp("still")) as opened:
        yield opened
        assert opened.log == ()


def fields_of(text: str) -> dict[str, Any]:
    """Return what a browser would send of a page's form as it stands: hidden, typed, and chosen."""
    form = text[text.index('<form method="post" action="/log/') :]
    fields: dict[str, Any] = {}
    for tag in re.findall(r"<input [^>]*>", form):
        told = {name: unescape(value) for name, value in re.findall(r'([a-z_-]+)="([^"]*)"', tag)}
        if told.get("type") in {"radio", "checkbox"} and " checked" not in tag:
            continue
        fields[told["name"]] = told.get("value", "")
    fields["notes"] = unescape(re.findall(r"<textarea[^>]*>([^<]*)</textarea>", form)[0])
    return fields


def test_the_form_asks_for_the_programme_in_its_order_and_has_nothing_chosen(still: Desk) -> None:
    text = still.page().text
    assert re.findall(r"<legend>([^<]*) <span class=\"at\">([\d:]*)", text) == [
        ("Jupiter", "18:20"), ("M 42", "20:00")]  # fmt: skip
    chosen = re.findall(r"<input[^>]* checked[^>]*>", text)
    assert [one for one in chosen if 'name="since"' not in one] == []
    assert fields_of(text) | {"key": "", "since": ""} == {
        "key": "", "since": "", "over": "0", "usable_min": "", "find": "", "sky_brightness": "", "notes": "",
    }  # fmt: skip
    second = still.page(SECOND).text
    assert "Standbys (1)" in second
    assert second.index("Standbys (1)") < second.index("<legend>M 42")


@pytest.mark.parametrize("went", ["clouded out", "could not go"])
def test_a_night_nobody_was_out_needs_one_choice_and_keeps_nothing_else(desk: Desk, went: str) -> None:
    answer = desk.save(**fields_of(desk.page().text) | {
        "went": went, "usable_min": "40", "sky_brightness": "21", "then": "save"},
        marks={"M 42": "seen"})  # fmt: skip
    assert (answer.status_code, answer.headers["location"]) == (
        303, f"/log/{desk.scenario}/{FRIDAY}?kept=1")  # fmt: skip
    (line,) = desk.log
    assert (line.outcome, line.usable_min, line.seen, line.sky_brightness) == (went, None, (), None)
    text = desk.get(answer.headers["location"]).text
    assert "It is in the log" in text
    assert f'action="/year/{desk.scenario}/plan"><button>Plan the year anew from it' in text
    assert "Plan the year anew" not in desk.page().text


def test_all_seen_is_one_tap_and_a_mark_of_its_own_goes_before_it(desk: Desk) -> None:
    desk.save(key="a", over="0", went="clear", all="seen")
    assert desk.log[-1].seen == ("Jupiter", "M 42")
    desk.save(key="b", over="1", went="clear", all="seen", marks={"Jupiter": "poorly", "M 1": "not"})
    line = desk.log[-1]
    assert (line.seen, line.seen_poorly, line.not_seen) == (("M 42",), ("Jupiter",), ("M 1",))


def test_a_part_clear_night_keeps_minutes_sky_and_notes_as_people_type_them(desk: Desk) -> None:
    desk.save(went="part-clear", usable_min=" 90 ", sky_brightness="21,37", notes="dew,\r\n and  an owl")
    line = desk.log[-1]
    assert (line.usable_min, line.sky_brightness, line.notes) == (90, 21.37, "dew, and an owl")
    text = desk.service.get(f"/scenarios/{desk.scenario}/outcomes.csv").text
    assert text.splitlines()[0].endswith(",notes,sky_brightness")
    assert text.splitlines()[1].endswith(',"dew, and an owl",21.37')
    shown = fields_of(desk.page().text)
    assert (shown["went"], shown["usable_min"], shown["sky_brightness"], shown["notes"], shown["over"]) == (
        "part-clear", "90", "21.37", "dew, and an owl", "1")  # fmt: skip


def test_a_logged_night_is_filled_in_with_what_the_log_has_and_says_so(desk: Desk) -> None:
    desk.at("2027-01-09T01:30")
    desk.save(went="clear", marks={"M 42": "seen", "NGC 5139": "not"})
    text = desk.page().text
    assert "In the log since Sat 9 Jan, 01:30: clear; seen M 42; not seen NGC 5139." in text
    shown = fields_of(text)
    assert (shown["target:M 42"], shown["target:NGC 5139"], shown["went"]) == ("seen", "not", "clear")
    assert "target:Jupiter" not in shown
    desk.save(**shown | {"went": "clouded out"})
    assert [line.outcome for line in desk.log] == ["clear", "clouded out"]


def test_other_targets_are_found_by_name_without_script_and_nothing_filled_in_is_lost(desk: Desk) -> None:
    fields = fields_of(desk.page().text)
    answer = desk.save(**fields | {"went": "clear", "find": "NGC", "then": "find", "notes": "<b>"},
                       marks={"M 42": "poorly"})  # fmt: skip
    assert answer.status_code == 200
    assert desk.log == ()
    assert "<legend>NGC 5139</legend>" in answer.text
    again = fields_of(answer.text)
    assert (again["went"], again["target:M 42"], again["notes"]) == ("clear", "poorly", "<b>")
    none = desk.save(**fields | {"find": "Nebula of Nowhere", "then": "find"}).text
    assert "No other target of the wish-list is called so." in none


@pytest.mark.parametrize(("fields", "words"), [
    ({}, "how the night went: choose one of the four"),
    ({"went": "starry"}, "choose one of the four"),
    ({"went": "part-clear", "usable_min": "many"}, "a number"),
    ({"went": "part-clear", "usable_min": "0"}, "some minutes"),
    ({"went": "part-clear", "usable_min": "1.5"}, "a whole number of minutes"),
    ({"went": "clear", "sky_brightness": "9.9"}, "a number from 10 to 24"),
    ({"went": "clear", "sky_brightness": "24.1"}, "a number from 10 to 24"),
    ({"went": "clear", "sky_brightness": "nan"}, "a number"),
    ({"went": "clear", "marks": {"Nebula of Nowhere": "seen"}}, "targets of the wish-list"),
])  # fmt: skip
def test_what_cannot_be_is_told_beside_what_was_filled_in_and_not_kept(
    still: Desk, fields: dict[str, Any], words: str
) -> None:
    answer = still.save(key="k", **fields)
    assert answer.status_code == 422
    assert words in unescape(answer.text)
    assert "Not saved yet." in answer.text
    shown = fields_of(answer.text)
    assert {name: shown[name] for name in fields if name in shown} == {
        name: value for name, value in fields.items() if name in shown}  # fmt: skip
    problem = still.save(by_form=False, key="k", **fields)
    assert problem.headers["content-type"] == "application/problem+json"
    assert problem.json()["errors"]
    assert still.log == ()


def test_a_night_to_come_is_refused_kindly_until_its_noon(desk: Desk) -> None:
    desk.at("2027-01-08T11:59")
    text = desk.page().text
    assert "Nothing to log yet: this night begins at noon on Fri 8 Jan." in text
    assert re.search(r"<form [^>]*id=\"log\"[^>]* hidden>", text)
    refused = desk.save(went="clear")
    assert refused.status_code == 422
    assert "nothing to log yet" in refused.text
    opens = int(re.findall(r'data-opens="(\d+)"', text)[0])
    assert datetime.fromtimestamp(opens, tz=small_plan.SITE.local).isoformat() == "2027-01-08T12:00:00+00:00"
    desk.at("2027-01-08T12:00")
    assert "Nothing to log yet" not in desk.page().text
    assert desk.save(went="clear").status_code == 303


@pytest.mark.parametrize("evening", ["2027-02-01", "2026-12-31", "20270108", "2027-01-8", "tonight"])
def test_what_is_no_evening_of_the_season_is_not_there(still: Desk, evening: str) -> None:
    assert still.page(evening).status_code == 404
    assert still.save(evening, went="clear").status_code == 404


def test_without_a_plan_there_is_no_form_yet(desk: Desk) -> None:
    kept = desk.service.keep("other", *(desk.service.get(f"/scenarios/{desk.scenario}/{part}").content
                                        for part in ("scenario.toml", "wish-list.csv")))  # fmt: skip
    other = replace(desk, scenario=kept.json()["id"])
    assert other.page().headers["location"] == f"/year/{other.scenario}"
    assert other.save(went="clear").status_code == 404


def test_what_is_sent_again_is_kept_once_however_late(desk: Desk) -> None:
    sent: dict[str, Any] = {
        "key": "one",
        "over": "0",
        "went": "clear",
        "marks": {"M 42": "seen"},
        "by_form": False,
    }
    first = desk.save(**sent)
    assert (first.status_code, first.json()["line"]) == (201, 1)
    desk.save(key="two", over="1", went="clouded out")
    again = desk.save(**sent)  # the answer to the first was lost
    assert (again.status_code, again.json()["line"]) == (201, 1)
    assert [line.outcome for line in desk.log] == ["clear", "clouded out"]


def test_what_is_sent_again_counts_as_kept_when_the_log_is_full_by_then(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.logged.MOST_OUTCOMES", 1)
    sent: dict[str, Any] = {"key": "one", "over": "0", "went": "clear", "by_form": False}
    assert [desk.save(**sent).status_code for _ in range(2)] == [201, 201]
    assert_is_problem(desk.save(**sent | {"key": "two", "over": "1"}), 422, "invalid-value")


def test_an_older_line_never_goes_over_a_newer_one_unasked(desk: Desk) -> None:
    desk.save(key="phone", over="0", went="clouded out")
    late: dict[str, Any] = {"key": "tablet", "over": "0", "went": "clear", "marks": {"M 42": "seen"}}
    problem = assert_is_problem(desk.save(by_form=False, **late), 409, "logged-meanwhile")
    assert (problem["evening"], problem["line"]) == (FRIDAY, 1)
    asked = desk.save(**late)
    assert asked.status_code == 409
    assert "The log has: clouded out." in asked.text
    shown = fields_of(asked.text)
    assert (shown["went"], shown["target:M 42"], shown["over"]) == ("clear", "seen", "1")
    assert [line.outcome for line in desk.log] == ["clouded out"]
    assert desk.save(**shown).status_code == 303  # decided by somebody who knows of both
    assert [line.outcome for line in desk.log] == ["clouded out", "clear"]


def test_one_key_with_two_lines_asks_which(desk: Desk) -> None:
    """As where a browser's way back shows a form once more that was sent, and it is filled in otherwise."""
    desk.save(key="k", over="0", went="clear")
    asked = desk.save(key="k", over="0", went="clouded out")
    assert asked.status_code == 409
    assert fields_of(asked.text)["key"] != "k"
    assert_is_problem(desk.save(by_form=False, key="k", over="0", went="clouded out"), 422, "key-reused")
    assert len(desk.log) == 1


def test_two_devices_that_say_the_same_make_one_line(desk: Desk) -> None:
    for key in ("phone", "tablet"):
        assert desk.save(by_form=False, key=key, over="0", went="could not go").json()["line"] == 1
    assert len(desk.log) == 1


def test_programs_too_send_a_line_under_a_key_of_their_own(desk: Desk) -> None:
    path = f"/scenarios/{desk.scenario}/outcomes"
    line = {"evening": FRIDAY, "outcome": "clear", "seen": ["m42"], "sky_brightness": 21.3}
    key = {"Idempotency-Key": "first-night"}
    first, again = (desk.service.ask("POST", path, json=line, headers=key) for _ in range(2))
    assert (first.status_code, first.json()) == (201, again.json())
    assert (first.json()["items"][0]["seen"], first.json()["items"][0]["sky_brightness"]) == (["M 42"], 21.3)
    assert_is_problem(
        desk.service.ask("POST", path, json=line | {"seen": []}, headers=key), 422, "key-reused"
    )
    for dark in (9.9, 24.1):
        assert desk.service.ask("POST", path, json=line | {"sky_brightness": dark}).status_code == 422
    assert len(desk.log) == 1
    assert desk.service.ask("POST", path, json=line).json()["items"][0]["line"] == 2  # no key: as ever


def jobs_of(desk: Desk) -> list[str]:
    return [
        job.work.value for job in desk.storage.jobs.page(desk.service.club.rpartition("/")[2], None, 99).items
    ]


def test_save_and_plan_on_starts_one_replan_a_line_and_leads_to_it(desk: Desk) -> None:
    sent: dict[str, Any] = {"key": "k", "over": "0", "went": "clouded out", "then": "plan"}
    first, again = desk.save(**sent), desk.save(**sent)
    assert first.headers["location"] == again.headers["location"]
    job = desk.storage.jobs.get(first.headers["location"].removeprefix("/progress/"))
    assert (job.work.value, job.outcomes, job.wish["after"]) == ("re-plan", 1, "newest")
    assert jobs_of(desk).count("re-plan") == 1
    other = desk.save(SECOND, key="l", over="0", went="clouded out", then="plan")
    assert other.headers["location"] != first.headers["location"]
    only = desk.save("2027-01-01", key="m", over="0", went="could not go", then="save")
    assert only.headers["location"].startswith("/log/")
    assert jobs_of(desk).count("re-plan") == 2


def test_nights_since_can_be_counted_as_past_so_that_no_plan_counts_on_them(desk: Desk) -> None:
    desk.at("2027-01-28T12:00")
    assert 'name="since" value="2027-01-15" checked' in desk.page("2027-01-08").text
    assert 'name="since"' not in desk.page("2027-01-15").text, "nothing lies between it and today"
    only = desk.save("2027-01-08", key="a", went="clouded out", then="save", since="2027-01-15")
    assert only.status_code == 303
    assert [one.evening.isoformat() for one in desk.log] == ["2027-01-08"], "not asked for without a plan"
    for _ in range(2):
        desk.save("2027-01-08", key="b", went="clouded out", over="1", then="plan", since="2027-01-15")
    assert {one.evening.isoformat() for one in desk.log[:-1]} == {"2027-01-08"}
    last = desk.log[-1]
    assert (last.evening.isoformat(), last.outcome, last.notes) == (
        "2027-01-15",
        "could not go",
        COUNTED_AS_PAST,
    )


@pytest.mark.parametrize("since", ["", "2027-01-07", "soon", "2027-01-09"])
def test_no_night_but_those_told_is_counted_as_past(desk: Desk, since: str) -> None:
    desk.at("2027-01-28T12:00")
    desk.save("2027-01-08", key="a", went="clouded out", then="plan", since=since)
    assert [one.evening.isoformat() for one in desk.log] == ["2027-01-08"]


def test_a_line_is_kept_although_no_replan_can_be_started(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    from api.errors import TooManyJobs

    def full(*_: object) -> Any:
        raise TooManyJobs(1)

    monkeypatch.setattr(StoredJobs, "add", full)
    answer = desk.save(key="k", over="0", went="clear", then="plan")
    assert answer.headers["location"].endswith("?kept=1&unplanned=1")
    assert "The plan could not be made anew just now" in desk.get(answer.headers["location"]).text
    assert len(desk.log) == 1


def test_members_log_and_planners_plan_on(tmp_path: Path) -> None:
    with a_desk(tmp_path, keys="required") as desk:
        club = desk.service.club.rpartition("/")[2]
        del desk.service.client.headers["Authorization"]
        seen = {}
        for role in (Role.READER, Role.MEMBER, Role.PLANNER):
            token = made_key(desk.storage, NewKey(club, role, "a phone"))[1]
            desk.headers = {"Authorization": f"Bearer {token}"}
            evening = "2027-01-01" if role is Role.MEMBER else FRIDAY
            answer = desk.save(evening, key=role.value, over="0", went="clear", then="plan")
            kept = desk.get(f"/keep/{desk.scenario}").json()["pages"]
            seen[role.value] = (
                answer.status_code, "Save and plan on" in desk.page().text,
                answer.headers.get("location", "").split("/")[1:2], any("/log/" in one for one in kept),
            )  # fmt: skip
        assert seen == {
            "reader": (403, False, [], False), "member": (303, False, ["log"], True),
            "planner": (303, True, ["progress"], True),
        }  # fmt: skip


def test_a_replan_since_does_not_take_the_programme_off_the_form(desk: Desk) -> None:
    first = desk.storage.plans.newest(desk.scenario)
    assert first is not None
    desk.at("2027-01-10T20:00")
    later = desk.keep_plan(without(small_plan.plan(), small_plan.FIRST), first.id)
    assert desk.storage.plans.newest(desk.scenario).id == later  # type: ignore[union-attr]
    assert "<legend>Jupiter" in desk.page().text


def unlogged(desk: Desk) -> list[str]:
    standing = standing_of(desk.service.client.app.state.services, desk.scenario)
    assert standing is not None
    return [str(one) for one in unlogged_of(standing)]


def test_nights_without_a_line_are_told_and_kept(desk: Desk) -> None:
    desk.at("2027-01-08T22:00")
    assert unlogged(desk) == []
    desk.at("2027-01-28T12:00")
    assert unlogged(desk) == [FRIDAY, SECOND]
    desk.save(went="could not go")
    assert unlogged(desk) == [SECOND]
    past = Change("M 1", small_plan.SECOND, None, ChangeReason.PAST, "its night is past")
    desk.keep_plan(without(small_plan.plan(), small_plan.SECOND, changes=(past,)))
    assert unlogged(desk) == [SECOND]
    told = desk.get(f"/keep/{desk.scenario}").json()
    assert told["pages"] == [
        f"/year/{desk.scenario}", f"/log/{desk.scenario}/2027-01-28", f"/log/{desk.scenario}/{SECOND}"
    ]  # fmt: skip
    assert any(one.startswith("/static/log.js?v=") for one in told["files"])
    desk.at("2027-01-07T12:00")
    coming = desk.get(f"/keep/{desk.scenario}").json()["pages"]
    assert f"/night/{desk.scenario}/{FRIDAY}" in coming
    assert f"/log/{desk.scenario}/{FRIDAY}" in coming


def test_who_tells_of_a_later_night_first_is_still_asked_about_the_one_before(desk: Desk) -> None:
    desk.at("2027-01-28T12:00")
    desk.save(SECOND, went="clear")
    assert unlogged(desk) == [FRIDAY]
    past = Change("M 42", small_plan.FIRST, None, ChangeReason.PAST, "its night is past")
    desk.keep_plan(without(small_plan.plan(), small_plan.FIRST, changes=(past,)))
    assert unlogged(desk) == [FRIDAY]
    desk.save(went="could not go")
    assert unlogged(desk) == []


def test_the_keeper_may_reach_nothing_but_this_service(still: Desk) -> None:
    answer = still.service.get("/keeper.js")
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers["content-security-policy"] == "default-src 'none'; connect-src 'self'"
    assert answer.headers["cache-control"] == "no-cache"
    assert answer.text.index("const waitingLines") < answer.text.index("const COPIES")


HOSTILE = "\"><img src=x onerror=alert(1)> '{{7*7}}'"


def test_hostile_names_stay_words(tmp_path: Path) -> None:
    row = '"' + HOSTILE.replace('"', '""') + '"'
    wishes = WISHES.replace(b"\r\n", b",,\r\n").replace(b"priority,,", b"priority,ra_deg,dec_deg")
    plan = small_plan.plan()
    own = replace(small_plan.ORION, name=HOSTILE)
    visits = (replace(plan.visits[0], target=HOSTILE), *plan.visits[1:])
    plan = replace(plan, targets=(*plan.targets, own), visits=visits)
    with a_desk(tmp_path, wishes + f"{row},3,83.9,-5.4\r\n".encode(), plan) as desk:
        text = desk.page().text
        assert "<img src=x" not in text
        assert "'{{7*7}}'" in unescape(text)
        assert "'49'" not in unescape(text)
        assert desk.save(went="clear", all="seen", notes=HOSTILE).status_code == 303
        assert desk.log[-1].seen == (HOSTILE, "M 42")
        again = desk.page().text
        assert "<img src=x" not in again
        assert fields_of(again)[f"target:{HOSTILE}"] == "seen"


def test_changes_are_grouped_by_what_became_of_the_visit(desk: Desk) -> None:
    plan = small_plan.plan()
    first = desk.storage.plans.newest(desk.scenario)
    assert first is not None
    assert "made from nothing" in desk.get(f"/changes/{first.id}").text
    same = desk.keep_plan(replace(plan, version=2), first.id)
    assert "Nothing changed." in desk.get(f"/changes/{same}").text
    changes = (
        Change(
            "M 42", small_plan.FIRST, small_plan.SECOND, ChangeReason.CLOUDED_OUT, "8 Jan was clouded out"
        ),
        Change("Jupiter", small_plan.FIRST, None, ChangeReason.SEEN, "seen on 2027-01-08"),
        Change("NGC 5139", small_plan.SECOND, None, ChangeReason.GIVEN_UP, "no longer placed"),
        Change("M 1", None, small_plan.SECOND, ChangeReason.NEWLY_PLACED, "had no place before"),
    )
    desk.at("2027-01-09T12:00")
    made = without(plan, small_plan.FIRST, 3, changes=changes, announced=(small_plan.SECOND,))
    later = desk.keep_plan(made, first.id)
    text = desk.get(f"/changes/{later}").text
    main = " ".join(re.sub(r"<[^>]+>", " ", text[text.index("<main") : text.index("</main")]).split())
    assert "4 changes." in main
    for told in (
        "Moved to another night Fri 8 Jan M 42 now on Fri 15 Jan : 8 Jan was clouded out",
        "Came new Fri 15 Jan M 1 : had no place before", "Fell away Fri 15 Jan NGC 5139 : no longer placed",
        "No longer needed Fri 8 Jan Jupiter : seen on Fri 8 Jan",
        "Nights announced to others stand as they were told:",
        "Changed all the same, since nothing else could be done: Fri 15 Jan",
    ):  # fmt: skip
        assert told in main
    assert f'href="/night/{desk.scenario}/{SECOND}"' in text
    assert f'href="/night/{desk.scenario}/{FRIDAY}"' not in text  # nothing is planned there any more


def test_a_line_nobody_wrote_is_told_as_that_and_fills_nothing_in(desk: Desk) -> None:
    desk.at("2027-01-28T12:00")
    assert "The free night after Fri 8 Jan is past: plan from tonight on" in desk.page().text
    desk.save(key="a", went="clouded out", then="plan", since=SECOND)
    text = desk.page(SECOND).text
    assert re.search(r"In the log since [^:]*:\d\d: not told; counted as past\.", text)
    assert "could not go;" not in text
    shown = fields_of(text)
    assert (shown.get("went"), shown["notes"], shown["over"]) == (None, "", "2")


def test_a_change_of_a_night_nobody_told_of_says_so(desk: Desk) -> None:
    first = desk.storage.plans.newest(desk.scenario)
    assert first is not None
    desk.at("2027-01-28T12:00")
    desk.save(key="a", went="could not go", notes="the car", then="plan", since=SECOND)
    lost = tuple(
        Change(name, evening, None, ChangeReason.COULD_NOT_GO, f"nobody could go on {evening}")
        for name, evening in (("M 42", small_plan.FIRST), ("M 1", small_plan.SECOND))
    )
    later = desk.keep_plan(replace(small_plan.plan(), version=2, changes=lost), first.id)
    text = desk.get(f"/changes/{later}").text
    main = " ".join(re.sub(r"<[^>]+>", " ", text[text.index("<main") : text.index("</main")]).split())
    assert "M 42 : nobody could go on Fri 8 Jan" in main
    assert "M 1 : not told; counted as past" in main


def test_a_fault_is_told_by_what_the_form_calls_the_field(still: Desk) -> None:
    fields: dict[str, Any] = {"key": "k", "went": "clear", "sky_brightness": "25.9"}
    shown = unescape(still.save(**fields).text)
    assert "Sky brightness: read 25.9, expected a number from 10 to 24" in shown
    assert "sky_brightness: read" not in shown
    (error,) = still.save(by_form=False, **fields).json()["errors"]
    assert error["detail"].startswith("Sky brightness: read 25.9")


def test_who_plans_on_from_one_night_does_not_keep_out_the_line_of_the_next(desk: Desk) -> None:
    """Both were written without a network: nobody but their writer told anything."""
    first: dict[str, Any] = {"key": "a", "over": "0", "went": "clear", "then": "plan", "since": SECOND}
    assert desk.save(by_form=False, **first).status_code == 201
    answer = desk.save(SECOND, by_form=False, key="b", over="0", went="clear", then="save")
    assert (answer.status_code, answer.json()["line"]) == (201, 3)
    assert [(str(line.evening), line.outcome) for line in desk.log] == [
        (FRIDAY, "clear"), (SECOND, "could not go"), (SECOND, "clear")]  # fmt: skip


def test_a_planner_who_counts_nights_as_past_keeps_out_no_line_that_waits(desk: Desk) -> None:
    shown = fields_of(desk.page(SECOND).text)
    assert desk.service.ask("POST", f"/year/{desk.scenario}/past", follow_redirects=False).status_code == 303
    assert [line.notes for line in desk.log] == [COUNTED_AS_PAST]
    assert desk.save(SECOND, **shown | {"went": "clear"}).status_code == 303
    assert [line.outcome for line in desk.log] == ["could not go", "clear"]
    assert desk.save(SECOND, key="late", over="0", went="clouded out").status_code == 409, "somebody did tell"


def test_a_line_that_comes_while_nights_are_counted_as_past_stands(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def late(*given: Any) -> Any:
        line = NewOutcome(date.fromisoformat(SECOND), "clear", seen=("M 42",))
        desk.storage.outcomes.add(desk.scenario, [line], None)
        return added_to_log(*given)

    monkeypatch.setattr("api.pages.silent.added_to_log", late)
    count_as_past(desk.service.client.app.state.services, desk.scenario)
    assert [(line.outcome, line.notes) for line in desk.log] == [("clear", "")]
    assert "counted as past" not in desk.page(SECOND).text


@pytest.mark.parametrize(("many", "when"), [(60, "2027-01-20T12:00"), (5, "2027-01-09T08:00")])
def test_a_nights_programme_outlasts_however_many_replans(desk: Desk, many: int, when: str) -> None:
    desk.at(when)
    for version in range(2, many + 2):
        desk.keep_plan(without(small_plan.plan(), small_plan.FIRST, version))
    desk.at("2027-01-28T12:00")
    assert "<legend>Jupiter" in desk.page().text
    assert "Jupiter" in desk.get(f"/night/{desk.scenario}/{FRIDAY}").text
