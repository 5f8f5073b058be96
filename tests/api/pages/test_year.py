from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from xml.etree import ElementTree

import pytest

import scheduler
from api.pages.silent import silent_of, unlogged_of
from api.pages.standing import night_of, standing_of, twilit_of
from api.pages.year import PART
from api.storage import NewOutcome
from scheduler.domain import Odds, Plan, TargetOdds
from scheduler.domain.outcome import COUNTED_AS_PAST
from scheduler.pictures.nights import Evening, evenings_of
from tests.small_plan import FIRST, SECOND, plan

from ..browser.long_list import long_plan
from ..journeys import Service
from .stored import Stored, kept, logged, stored
from .test_front import HTML, storage_of

HOSTILE = '"><img src=x onerror=alert(1)><script>alert(2)</script>'


def year_of(service: Service, of: Stored, query: str = "") -> str:
    answer = service.ask("GET", f"/year/{of.scenario}{query}", headers=HTML)
    assert answer.status_code == 200, answer.text
    return answer.text


def pictures_in(text: str) -> list[ElementTree.Element]:
    return [ElementTree.fromstring(one) for one in re.findall(r"<svg.*?</svg>", text, flags=re.DOTALL)]


def targets_in(picture: ElementTree.Element) -> list[str]:
    """Return where each row of a wish-list leads."""
    return [one.attrib["href"] for one in picture.iter() if "target" in one.attrib.get("class", "").split()]


def figure_of(text: str, name: str) -> str:
    found = re.search(rf"<dt>{name}</dt><dd>(.*?)</dd>", text, flags=re.DOTALL)
    assert found, name
    return re.sub(r"<.*?>", " ", found[1])


def test_every_free_night_leads_to_its_page_at_both_widths(service: Service) -> None:
    of = stored(storage_of(service), plan())
    pictures = pictures_in(year_of(service, of))
    assert len(pictures) == 2
    for picture in pictures:
        links = [one for one in picture.iter() if "data-evening" in one.attrib]
        assert [one.attrib["href"] for one in links] == [
            f"/night/{of.scenario}/{night.evening}" for night in plan().nights
        ]
        assert all("h dark" in one.attrib["aria-label"] for one in links)


def test_the_log_as_it_stands_now_is_shown(service: Service) -> None:
    of = stored(storage_of(service), plan())
    before = year_of(service, of)
    assert "Clouded out" not in before
    logged(storage_of(service), of.scenario, NewOutcome(FIRST, "clouded out"))
    after = year_of(service, of)
    assert "Clouded out" in after
    assert "has changed since this plan was made" in after
    assert "has changed since this plan was made" not in before


def test_progress_counts_what_is_done_and_what_is_still_to_come(service: Service) -> None:
    odds = Odds("p", 10, 0, tuple(TargetOdds(one.name, 0.5, 0.1, (SECOND,)) for one in plan().targets),
                2.0, 0.1, 1.0, 2.0, 3.0, 1.5, ())  # fmt: skip
    of = stored(storage_of(service), replace(plan(), odds=odds))
    before = year_of(service, of)
    logged(storage_of(service), of.scenario, NewOutcome(FIRST, "clear", None, ("M 42",)))
    after = year_of(service, of)
    assert figure_of(before, "Done").split()[0] == "0"
    assert figure_of(after, "Done").split()[0] == "1"
    assert figure_of(after, "At risk").split()[0] == "4"
    assert "1 to 3 in eight years of ten" in figure_of(after, "Likely done by the end")
    coming = {visit.target for visit in plan().visits if visit.evening != FIRST}
    assert int(figure_of(after, "Planned").split()[0]) == len(coming)


def test_hostile_names_are_only_names(service: Service) -> None:
    targets = [replace(one, name=HOSTILE) if one.name == "M 1" else one for one in plan().targets]
    visits = [replace(one, target=HOSTILE) if one.target == "M 1" else one for one in plan().visits]
    standbys = [replace(one, target=HOSTILE) if one.target == "M 1" else one for one in plan().standbys]
    hostile = replace(plan(), targets=tuple(targets), visits=tuple(visits), standbys=tuple(standbys))
    of = stored(storage_of(service), hostile, name=HOSTILE)
    for path in (f"/year/{of.scenario}", f"/wishes/{of.scenario}", "/"):
        text = service.ask("GET", path, headers=HTML).text
        assert "<img" not in text
        assert "<script>alert" not in text
        assert "onerror=alert(1)&gt;" in text


def test_a_long_list_is_shown_in_parts_none_left_out(service: Service) -> None:
    many = long_plan(PART + 40)
    of = stored(storage_of(service), many)
    names: list[str] = []
    for first in (1, PART + 1):
        text = service.ask("GET", f"/wishes/{of.scenario}?first={first}", headers=HTML).text
        wide, narrow = pictures_in(text)
        shown = [one.attrib["href"] for one in wide.iter() if "target" in one.attrib.get("class", "").split()]
        assert len(shown) == len(
            [one for one in narrow.iter() if "target" in one.attrib.get("class", "").split()]
        )
        assert f'href="?first={PART + 1 if first == 1 else 1}"' in text
        names += shown
    assert len(set(names)) == len(names) == PART + 40
    assert len({*names}) == len(many.targets)


def test_an_older_version_says_that_it_is_one(service: Service) -> None:
    storage = storage_of(service)
    of = stored(storage, plan())
    newer = kept(storage, of.scenario, replace(plan(), version=plan().version + 1), previous=of.plan)
    assert "an older one" in year_of(service, of, f"?plan={of.plan}")
    newest = year_of(service, of)
    assert "an older one" not in newest
    assert f'href="/changes/{newer}"' in newest


def test_a_plan_of_another_scenario_is_not_shown(service: Service) -> None:
    storage = storage_of(service)
    one, other = stored(storage, plan()), stored(storage, plan(), name="another")
    assert service.get(f"/year/{one.scenario}?plan={other.plan}").status_code == 404
    assert service.get(f"/year/{one.scenario}?plan=nonsense").status_code == 422


def test_without_a_plan_the_year_offers_one_and_shows_the_work(service: Service) -> None:
    scenario = service.kept().rpartition("/")[2]
    asked = service.ask("GET", f"/year/{scenario}", headers=HTML)
    assert f'action="/year/{scenario}/plan"' in asked.text
    led = service.ask("POST", f"/year/{scenario}/plan", follow_redirects=False)
    assert led.status_code == 303
    job = led.headers["location"].rpartition("/")[2]
    assert service.ended(f"/jobs/{job}")["state"] == "done"


def test_the_next_night_is_the_first_without_a_line_in_the_log(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    storage = storage_of(service)
    of = stored(storage, plan())
    monkeypatch.setattr(storage, "now", lambda: datetime.fromisoformat("2027-01-03T12:00+00:00"))

    def led() -> str:
        answer = service.ask("GET", f"/next/{of.scenario}", follow_redirects=False)
        assert answer.status_code == 303
        return str(answer.headers["location"])

    assert led() == f"/night/{of.scenario}/{FIRST}"
    logged(storage, of.scenario, NewOutcome(FIRST, "clouded out"))
    assert led() == f"/night/{of.scenario}/{SECOND}"
    monkeypatch.setattr(storage, "now", lambda: datetime.fromisoformat("2027-03-03T12:00+00:00"))
    assert led() == f"/year/{of.scenario}"


def test_red_after_dusk_goes_by_the_site(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    storage = storage_of(service)
    of = stored(storage, plan())
    monkeypatch.setattr(storage, "now", lambda: datetime.fromisoformat("2027-01-08T12:00+00:00"))
    twilit = twilit_of(plan(), date(2027, 1, 8))
    assert [one.start.date().day for one in twilit] == list(range(8, 22))
    told = ".".join(f"{one.start.timestamp():.0f}-{one.end.timestamp():.0f}" for one in twilit)
    answer = service.ask("GET", f"/year/{of.scenario}", headers=HTML)
    assert f"duskwright-dusk={told};" in answer.headers["set-cookie"]


def test_a_night_lasts_until_noon() -> None:
    assert night_of(datetime(2027, 1, 9, 11, 59)) == date(2027, 1, 8)  # noqa: DTZ001
    assert night_of(datetime(2027, 1, 9, 12, 0)) == date(2027, 1, 9)  # noqa: DTZ001


def test_nights_behind_without_a_line_can_be_counted_as_past(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    storage = storage_of(service)
    scenario = service.kept().rpartition("/")[2]
    service.planned(f"/scenarios/{scenario}")
    kept(storage, scenario, replace(plan(), version=2))
    of = Stored("", scenario, "")
    offer = f'action="/year/{scenario}/past"'
    monkeypatch.setattr(storage, "now", lambda: datetime.fromisoformat("2027-01-08T14:00+00:00"))
    assert offer not in year_of(service, of), "tonight is not past"
    monkeypatch.setattr(storage, "now", lambda: datetime.fromisoformat("2027-01-20T14:00+00:00"))
    assert offer in year_of(service, of)
    assert "not logged yet" in year_of(service, of)
    led = service.ask("POST", f"/year/{scenario}/past", follow_redirects=False)
    assert led.status_code == 303
    assert led.headers["location"].startswith("/progress/")
    (line,) = storage.outcomes.lines(scenario)
    assert (line.evening, line.outcome) == (SECOND, "could not go")
    standing = standing_of(service.client.app.state.services, scenario)
    assert standing
    assert silent_of(standing) == unlogged_of(standing) == ()
    assert "not logged yet" not in year_of(service, of)


def test_what_was_logged_in_part_leaves_the_later_nights_to_be_told(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    storage = storage_of(service)
    of = stored(storage, plan())
    monkeypatch.setattr(storage, "now", lambda: datetime.fromisoformat("2027-01-20T14:00+00:00"))
    services = service.client.app.state.services
    for expected in ((FIRST, SECOND), (SECOND,), ()):
        standing = standing_of(services, of.scenario)
        assert standing
        assert silent_of(standing) == expected
        if expected:
            logged(storage, of.scenario, NewOutcome(expected[0], "clouded out"))


def test_targets_on_nights_past_that_nobody_logged_are_told_beside_the_planned(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    of = stored(storage_of(service), plan())
    first = {visit.target for visit in plan().visits if visit.evening == FIRST}
    later = {visit.target for visit in plan().visits if visit.evening != FIRST}
    monkeypatch.setattr(storage_of(service), "now", lambda: datetime.fromisoformat("2027-01-10T14:00+00:00"))
    told = figure_of(year_of(service, of), "Planned")
    assert told.split()[0] == str(len(later))
    unplaced = {one.target for one in plan().unplaced}
    past = len(first - later - unplaced)
    assert past == 1
    assert f"{past} on nights past and not logged" in told
    assert len(later) + len(unplaced) + past == len(plan().targets), "the figures add up"
    logged(storage_of(service), of.scenario, NewOutcome(FIRST, "clouded out"))
    anew = figure_of(year_of(service, of), "Planned")
    assert "not logged" not in anew
    assert f"{past} to be planned anew" in anew
    assert "every one has its place" not in anew


def test_a_line_nobody_wrote_is_no_outcome_in_the_picture(service: Service) -> None:
    of = stored(storage_of(service), plan())
    logged(storage_of(service), of.scenario, NewOutcome(SECOND, "could not go", notes=COUNTED_AS_PAST))
    text = year_of(service, of)
    assert "ould not go" not in text
    night = next(one for one in pictures_in(text)[0].iter() if one.get("data-evening") == str(SECOND))
    assert night.attrib["aria-label"].endswith("Past.")


def test_rows_of_any_number_need_one_look_at_the_nights(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks: list[Plan] = []

    def looked(of: Plan) -> tuple[Evening, ...]:
        looks.append(of)
        return evenings_of(of)

    assert callable(scheduler.year_picture), "the pictures are loaded, and look at nights by themselves"
    monkeypatch.setattr("scheduler.pictures.nights.evenings_of", looked)
    made = long_plan(60, nights=40, visits=80)
    text = year_of(service, stored(storage_of(service), made))
    assert len(looks) == 1
    for visit in made.visits:
        assert f"/{visit.evening}" in text
