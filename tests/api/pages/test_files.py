"""A scenario's files changed in the browser: read whole before they are kept, and nobody's change is lost."""

from __future__ import annotations

import pytest

from ..conftest import StartService
from ..journeys import Answer, Service
from .controls import Controls
from .test_begin import HOSTILE
from .test_front import HTML, storage_of

TOML = """\
[site]
latitude_deg = 47.3
longitude_deg = 11.4
zone = "Europe/Vienna"

[binoculars]
magnification = 10
aperture_mm = 50
"""
WISHES = "target,priority\nM 31,5\nSaturn,3\n"


@pytest.fixture
def service(start_reading: StartService) -> Service:
    return start_reading()


def kept(service: Service) -> str:
    answer = service.keep("fenwold", TOML.encode(), WISHES.encode())
    assert answer.status_code == 201, answer.text
    return str(answer.headers["location"]).rpartition("/")[2]


def form_of(answer: Answer) -> dict[str, str]:
    controls = Controls(answer.text)
    revision = next(has["value"] for _, has in controls.elements if has.get("name") == "revision")
    return {name: values[0] for name, values in controls.values.items()} | {"revision": revision}


def shown(service: Service, scenario: str) -> dict[str, str]:
    return form_of(service.ask("GET", f"/files/{scenario}", headers=HTML))


def sent(service: Service, scenario: str, form: dict[str, str]) -> Answer:
    return service.ask("POST", f"/files/{scenario}", data=form, headers=HTML, follow_redirects=False)


def test_a_year_is_removed_by_two_taps_and_with_it_what_belongs_to_it(service: Service) -> None:
    gone, stays = kept(service), kept(service)
    page = service.ask("GET", f"/files/{gone}", headers=HTML).text
    assert page.index("<summary>Remove the whole year") < page.index(f'action="/files/{gone}/remove"')
    led = service.ask("POST", f"/files/{gone}/remove", headers=HTML, follow_redirects=False)
    assert (led.status_code, led.headers["location"]) == (303, "/")
    assert service.ask("GET", f"/year/{gone}", headers=HTML).status_code == 404
    front = service.ask("GET", "/", headers=HTML).text
    assert stays in front
    assert gone not in front


def test_the_files_are_shown_and_kept_as_they_were_edited(service: Service) -> None:
    scenario = kept(service)
    form = shown(service, scenario)
    assert form == {"scenario_toml": TOML, "wish_list_csv": WISHES, "revision": "1"}
    answer = sent(
        service,
        scenario,
        {**form, "scenario_toml": f"# mine\r\n{TOML}", "wish_list_csv": "target\r\nM 13\r\n"},
    )
    assert (answer.status_code, answer.headers["location"]) == (303, f"/year/{scenario}")
    files, revision = storage_of(service).scenarios.files(scenario)
    assert (files.scenario_toml.decode(), files.wish_list_csv, revision) == (
        f"# mine\n{TOML}",
        b"target\nM 13\n",
        2,
    )
    assert storage_of(service).scenarios.get(scenario).targets == 1


def test_all_faults_are_told_and_what_was_typed_comes_back(service: Service) -> None:
    scenario = kept(service)
    wrong = {
        "scenario_toml": TOML.replace("47.3", "91"),
        "wish_list_csv": "target\nGalxy\nM 31\nm31\n",
        "revision": "1",
    }
    answer = sent(service, scenario, wrong)
    assert answer.status_code == 422
    assert form_of(answer) == wrong
    for words in ("site.latitude_deg", "row 2, target", "row 4, target"):
        assert words in answer.text
    assert storage_of(service).scenarios.get(scenario).revision == 1


def test_a_change_of_somebody_else_is_not_lost_unawares(service: Service) -> None:
    scenario = kept(service)
    mine = shown(service, scenario) | {"wish_list_csv": "target\nM 13\n"}
    assert sent(service, scenario, {**mine, "wish_list_csv": "target\nM 92\n"}).status_code == 303
    refused = sent(service, scenario, mine)
    assert refused.status_code == 409
    assert form_of(refused) == mine | {"revision": "2"}
    assert storage_of(service).scenarios.files(scenario)[0].wish_list_csv == b"target\nM 92\n"
    assert sent(service, scenario, form_of(refused)).status_code == 303
    assert storage_of(service).scenarios.files(scenario)[0].wish_list_csv == b"target\nM 13\n"


def test_what_the_page_never_sends_changes_nothing(service: Service) -> None:
    scenario = kept(service)
    form = shown(service, scenario)
    for other in ({}, {**form, "revision": "x"}, {**form, "revision": "9" * 30}, {"revision": "1"}):
        assert sent(service, scenario, other).status_code == 200
    assert storage_of(service).scenarios.get(scenario).revision == 1


def test_hostile_texts_are_only_texts(service: Service) -> None:
    scenario = kept(service)
    answer = sent(
        service,
        scenario,
        {"scenario_toml": f"</textarea>{HOSTILE}", "wish_list_csv": HOSTILE, "revision": "1"},
    )
    assert answer.status_code == 422
    elements = Controls(answer.text).elements
    assert not [has for tag, has in elements if tag == "img" or "onerror" in has]
    assert form_of(answer)["scenario_toml"] == f"</textarea>{HOSTILE}"
