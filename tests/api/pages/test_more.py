"""More targets put below a wish-list in the browser: all of them or none, and what stood there stays."""

from __future__ import annotations

import pytest

from ..conftest import StartService
from ..journeys import Answer, Service
from .controls import Controls
from .test_files import TOML, WISHES
from .test_front import HTML, storage_of

HOSTILE = "</textarea><script>alert(1)</script>"


@pytest.fixture
def service(start_reading: StartService) -> Service:
    return start_reading()


def kept(service: Service, wishes: str = WISHES) -> str:
    answer = service.keep("fenwold", TOML.encode(), wishes.encode())
    assert answer.status_code == 201, answer.text
    return str(answer.headers["location"]).rpartition("/")[2]


def sent(service: Service, scenario: str, more: str) -> Answer:
    return service.ask(
        "POST", f"/more/{scenario}", data={"more": more}, headers=HTML, follow_redirects=False
    )  # fmt: skip


def list_of(service: Service, scenario: str) -> list[str]:
    files, _ = storage_of(service).scenarios.files(scenario)
    return files.wish_list_csv.decode().splitlines()


@pytest.mark.parametrize(("wishes", "expected"), [
    (WISHES, ["target,priority,visits", "M 31,5,", "Saturn,3,", "M 13,,", "Jupiter,4,3"]),
    ("target;notes\nM 31;low, soon\n",
     ["target;notes;priority;visits", "M 31;low, soon;;", "M 13;;;", "Jupiter;;4;3"]),
])  # fmt: skip
def test_lines_come_below_and_what_stood_there_stays(
    service: Service, wishes: str, expected: list[str]
) -> None:
    scenario = kept(service, wishes)
    answer = sent(service, scenario, "M 13\r\nJupiter 4 x3\r\n")
    assert (answer.status_code, answer.headers["location"]) == (303, f"/year/{scenario}")
    assert list_of(service, scenario) == expected


def test_one_fault_keeps_all_out_and_stands_beside_what_was_typed(service: Service) -> None:
    scenario = kept(service)
    answer = sent(service, scenario, "M 13\nAndromeda Galxy\nM 31")
    assert answer.status_code == 422
    assert "“Andromeda Galxy”: expected" in answer.text
    assert "Did you mean Andromeda Galaxy" in answer.text
    assert "“M 31”: expected" in answer.text, "it stands there already, and all faults are told at once"
    assert Controls(answer.text).values["more"] == ["M 13\nAndromeda Galxy\nM 31"]
    assert list_of(service, scenario) == WISHES.splitlines()


def test_nothing_typed_adds_nothing(service: Service) -> None:
    scenario = kept(service)
    answer = sent(service, scenario, " \n")
    assert (answer.status_code, list_of(service, scenario)) == (422, WISHES.splitlines())


def test_a_name_looked_for_in_vain_is_filled_in_and_inert(service: Service) -> None:
    answer = service.ask("GET", f"/more/{kept(service)}", params={"name": HOSTILE}, headers=HTML)
    assert Controls(answer.text).values["more"] == [HOSTILE]
    assert "<script>alert" not in answer.text
