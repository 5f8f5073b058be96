"""Prices, what-ifs and what was asked before, answered by the real scheduler."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from api.page import day_words, long_day_words
from api.pages.answered import difference_words, months_of, signed
from api.pages.what_if_form import Filled, offered, read_form
from api.storage import Work
from scheduler import answer_to_json
from scheduler.domain import Amendment, Expected, MonthPrice, SeasonPrices, TargetGain, WhatIf

from .real_year import Year, answered, kept_year, planned
from .test_target import PAGE, words_of


def shown(year: Year) -> str:
    answer = year.get(f"/ask/{year.scenario}", headers=PAGE)
    assert answer.status_code == 200, answer.text
    return words_of(answer)


def what_if(year: Year, **fields: Any) -> Any:
    return year.post(f"/ask/{year.scenario}/what-if", **fields)


def answer_page(year: Year, job: str) -> str:
    return words_of(year.get(f"/answer/{job}", headers=PAGE))


def test_prices_are_asked_once_and_shown_month_by_month(year: Year) -> None:
    assert "Work it out" in shown(year)
    job = year.job_at(year.post(f"/ask/{year.scenario}/prices"))
    assert job.work is Work.PRICES
    assert "It is being worked out: see how far" in shown(year)
    year.work_out(job)
    assert year.job_at(year.post(f"/ask/{year.scenario}/prices")).id == job.id
    told, months = shown(year), json.loads(answered(Work.PRICES))["months"]
    assert [one["month"] for one in months] == ["2031-02-01", "2031-03-01"]
    february = months[0]
    evening = date.fromisoformat(february["evening"])
    best = f"{february['free_night']:.2f}"
    assert f"One more free night is worth most on {long_day_words(evening)}: {best} points." in told
    assert f"Feb 2031 {best} on {day_words(evening)} {february['hour']:.2f} 0" in told
    assert "A target seen as well as can be (merit 1) brings as many points as its priority" in told
    assert "Work it out" not in told
    assert answer_page(year, job.id).count("Feb 2031") == 1


def test_prices_worked_out_before_the_log_grew_are_told_as_such(year: Year) -> None:
    first = year.job_at(year.post(f"/ask/{year.scenario}/prices"))
    year.work_out(first)
    year.log(planned()[1].visits[0].evening, "clouded out")
    told = shown(year)
    assert "The log or the scenario has changed since this was worked out" in told
    assert "Work it out anew" in told
    assert "The log or the scenario has changed" in answer_page(year, first.id)
    assert year.job_at(year.post(f"/answer/{first.id}/again")).id != first.id


def test_bars_are_to_one_scale_and_what_is_worth_nothing_has_none(year: Year) -> None:
    def month(number: int, free: float, hour: float) -> MonthPrice:
        evening = planned()[1].season.start if free else None
        return MonthPrice(planned()[1].season.start.replace(month=number, day=1), hour, free, evening, 0.0)

    rows = months_of(SeasonPrices((), (month(1, 2.0, 0.02), month(2, 0.5, 0.004), month(3, 0.0, 0.0)), 0.0))
    assert [one.free_night_bar for one in rows] == [100.0, 25.0, 0.0]
    assert [(one.hour, one.hour_bar) for one in rows] == [("0.02", 1.0), ("0", 0.0), ("0", 0.0)]
    assert [one.free_night for one in rows] == ["2.0", "0.50", "0"]
    year.end(
        year.job_at(year.post(f"/ask/{year.scenario}/prices")),
        '{"nights": [], "months": [], "night_a_week": 0}',
    )
    assert "There is no free night left to price." in shown(year)


def test_one_tap_asks_for_one_more_weekday(year: Year) -> None:
    page = year.get(f"/ask/{year.scenario}", headers=PAGE).text
    assert re.findall(r'<button name="weekdays" value="(\w+)"', page) == ["mon", "tue", "wed", "thu", "sun"]
    assert re.findall(r'<button name="finish" value="([\d:]+)"', page) == ["22:00", "22:30", "23:00", "23:30"]
    assert re.findall(r'<button name="sky_brightness" value="([\d.]+)"', page) == ["21.2", "21.7"]
    job = year.job_at(what_if(year, weekdays="thu"))
    assert (job.work, job.wish["weekdays"], job.wish["years"]) == (Work.WHAT_IF, ["thu"], 50)
    assert year.job_at(what_if(year, weekdays="thu", nights_per_week="")).id == job.id
    assert year.job_at(what_if(year, weekdays="tue")).id != job.id


def test_an_answer_tells_the_difference_its_error_and_what_it_costs(year: Year) -> None:
    job = year.job_at(what_if(year, weekdays="thu", years="20"))
    year.work_out(job)
    kept = json.loads(year.storage.jobs.answer(job.id))
    told = answer_page(year, job.id)
    out = [kept[when]["nights_out"] for when in ("before", "after")]
    assert f"{kept['gain']:+.2f} ± {kept['gain_error']:.2f}" in told
    assert f"Nights out {out[0]:.1f} {out[1]:.1f} {signed(out[1] - out[0], 1)}" in told
    assert "In the mean of the same 20 weather years for both" in told
    for one in kept["targets"]:
        sure = abs(one["gain"]) > 2 * one["error"]
        assert (f"{one['target']} {100 * one['before']:.0f} %" in told) is sure, one
    assert "What if: Thursdays free too (20 weather years)" in shown(year)


EXPECTED = Expected(4.0, 2.0, 9.0, 9.5)


def answer_of(
    gain: float, error: float, change: Amendment | None = None, targets: tuple[TargetGain, ...] = ()
) -> str:
    made = change or Amendment(weekdays=(1,))
    return answer_to_json(WhatIf(made, 50, 0, EXPECTED, EXPECTED, gain, error, targets))


def test_only_targets_that_gain_or_lose_more_than_chance_are_named(year: Year) -> None:
    job = year.job_at(what_if(year, weekdays="tue"))
    rows = (
        ("M 42", 0.2, 0.6, 0.1),
        ("M 35", 0.5, 0.6, 0.06),
        ("M 1", 0.9, 0.85, 0.03),
        ("M 44", 0.9, 0.5, 0.1),
        ("M 79", 0.5, 0.3, 0.004),
    )
    year.end(job, answer_of(0.0, 0.1, targets=tuple(TargetGain(*row) for row in rows)))
    told = answer_page(year, job.id)
    assert "Gain most Target As it is Changed Difference M 42 20 % 60 % +40 ± 10 Lose most" in told
    assert "M 44 90 % 50 % −40 ± 10" in told
    assert "M 79 50 % 30 % −20 ± under 1" in told
    assert "M 35" not in told
    assert "M 1 " not in told


def test_a_difference_within_its_error_is_no_difference_and_can_be_made_surer(year: Year) -> None:
    job = year.job_at(what_if(year, weekdays="tue"))
    year.end(job, answer_of(0.39, 0.2))
    told = answer_page(year, job.id)
    assert "No difference that these years can tell." in told
    assert "It takes as many nights out as before: 2.0 in the mean of the years." in told
    assert "Live through 200 years instead" in told
    surer = year.job_at(year.post(f"/answer/{job.id}/surer"))
    assert surer.wish == {**job.wish, "years": 200}
    year.end(surer, answer_of(0.41, 0.2))
    told = answer_page(year, surer.id)
    assert "About half a target more done by the season's end, give or take a quarter of one." in told
    assert "Live through" not in told


@pytest.mark.parametrize(("gain", "error", "words"), [
    (0.0, 0.0, "No difference that these years can tell"),
    (0.25, 0.05, "About 0.2 of a target more done by the season's end, give or take a tenth of one"),
    (1.0, 0.1, "About one more target done by the season's end, give or take a tenth of one"),
    (-1.4, 0.2, "About one and a half fewer targets done by the season's end, give or take a quarter of one"),
    (13.2, 1.2, "About 13 more targets done by the season's end, give or take one"),
    (-3.0, 0.0, "About three fewer targets done by the season's end"),
])  # fmt: skip
def test_differences_are_told_in_plain_words(gain: float, error: float, words: str) -> None:
    assert difference_words(WhatIf(Amendment(), 50, 0, EXPECTED, EXPECTED, gain, error, ())) == words


def test_what_to_beware_of_is_told(year: Year) -> None:
    job = year.job_at(what_if(year, finish="23.30", lowest_altitude_deg="15", sky_brightness="21.7"))
    assert (job.wish["finish"], job.wish["sky_brightness"]) == ("23:30:00", 21.7)
    year.end(job, answer_of(1.0, 0.1, Amendment(finish=None, lowest_altitude_deg=15.0, later_min=60)))
    told = answer_page(year, job.id)
    assert "never point a telescope, finder or binoculars near it" in told
    assert "do not drive tired" in told


def test_every_fault_stands_beside_its_field_and_what_was_filled_in_stays(year: Year) -> None:
    fields = {
        "nights_per_week": "nine", "nights_per_month": "0", "start": "25:00", "finish": "late",
        "lowest_altitude_deg": "-3", "target": "M 4", "years": "1", "weekdays": "someday",
        "sky_brightness": "dark<b>",
    }  # fmt: skip
    answer = what_if(year, **fields)
    assert answer.status_code == 422
    text = answer.text
    for name in fields:
        assert f'id="{name}-fault"' in text, name
    for name in ("nights_per_week", "nights_per_month", "start", "finish", "lowest_altitude_deg", "years"):
        field = re.search(rf'<input id="{name}"[^>]*>', text, flags=re.DOTALL)
        assert field is not None
        assert f'value="{fields[name]}"' in field[0]
        assert 'aria-invalid="true"' in field[0]
        assert f"{name}-fault" in field[0].partition("aria-describedby")[2]
    assert text.count("autofocus") == 1
    assert "dark<b>" not in text
    assert year.jobs(Work.WHAT_IF) == ()


@pytest.mark.parametrize(("fields", "words"), [
    ({}, "Change something: all of it is as it is."),
    ({"target": "M 42"}, "Change something: all of it is as it is."),
    ({"weekdays": "fri"}, "It is so already: this would change nothing."),
    ({"finish": "21:00"}, "It is so already: this would change nothing."),
    ({"nights_per_week": "1"}, "It is so already: this would change nothing."),
    ({"start": "23:00"}, "It is so already: this would change nothing."),
])  # fmt: skip
def test_what_would_change_nothing_is_not_asked(year: Year, fields: dict[str, str], words: str) -> None:
    answer = what_if(year, **fields)
    assert answer.status_code == 422
    assert words in words_of(answer)
    assert year.jobs(Work.WHAT_IF) == ()


def test_years_are_cut_to_what_the_service_grants(tmp_path: Path) -> None:
    client, year = kept_year(tmp_path, most_years=30)
    with client:
        job = year.job_at(what_if(year, weekdays="thu"))
        assert job.wish["years"] == 30
        year.end(job, answer_of(0.0, 0.1))
        assert "Live through" not in answer_page(year, job.id)
    year.storage.close()


def test_what_was_asked_is_listed_newest_first_with_what_is_at_work(year: Year) -> None:
    assert "Asked before Nothing yet." in shown(year)
    first = year.job_at(year.post(f"/target/{year.scenario}", plan=year.plan, name="M 79"))
    year.work_out(first)
    stopped = year.job_at(what_if(year, weekdays="mon"))
    year.post(f"/answer/{stopped.id}/cancel")
    waiting = year.job_at(what_if(year, weekdays="tue"))
    page = year.get(f"/ask/{year.scenario}", headers=PAGE).text
    assert re.findall(r'href="/answer/(\w+)"', page) == [waiting.id, first.id]
    told = shown(year)
    assert "What if: Tuesdays free too (50 weather years) being worked out A visit for M 79" in told


def test_an_answer_of_another_making_is_not_shown_but_told(year: Year) -> None:
    for text in ('{"gain": 1}', "[]", '"x"', '{"before": {"finished": "many"}}'):
        job = year.job_at(what_if(year, weekdays="thu", years=f"{20 + len(text)}"))
        year.end(job, text)
        told = answer_page(year, job.id)
        assert "This version cannot show the answer." in told


def test_jobs_that_are_no_questions_lead_to_their_own_page(year: Year) -> None:
    plan = year.jobs(Work.PLAN)[0].id
    for answer in (year.get(f"/answer/{plan}", headers=PAGE), year.post(f"/answer/{plan}/again"),
                   year.post(f"/answer/{plan}/cancel")):  # fmt: skip
        assert (answer.status_code, answer.headers["location"]) == (303, f"/progress/{plan}")


def test_what_is_offered_is_what_would_be_new() -> None:
    read, _ = planned()
    told = offered(read)
    assert told.now == (
        "Fridays and Saturdays from 19:00 to 21:30", "up to 1 night out a week",
        "under a sky of 20.9 mag/arcsec²",
    )  # fmt: skip
    changed = offered(Amendment(weekdays=tuple(range(7)), sky_brightness=21.9).applied(read))
    assert (changed.weekdays, changed.skies) == ((), ())


def test_a_lower_limit_is_asked_of_one_target_or_of_all() -> None:
    read, _ = planned()
    one, faults = read_form(Filled(lowest_altitude_deg="12,5", target="M 79"), read)
    assert faults == {}
    assert one is not None
    assert (one.lowest_altitude_deg, one.targets) == (12.5, ["M 79"])
    known, _ = read_form(Filled(lowest_altitude_deg="12", target=" crab nebula "), read)
    assert known is not None
    assert known.targets == ["M 1"]
    _, faults = read_form(Filled(lowest_altitude_deg="12", target="M 78"), read)
    assert faults == {"target": "No target of the wish-list has this name; near it: M 7, M 79."}
    every, _ = read_form(Filled(lowest_altitude_deg="12"), read)
    assert every is not None
    assert every.targets == []
