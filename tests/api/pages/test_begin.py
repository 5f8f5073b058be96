"""From nothing to a plan that is being made, by forms alone; with the real reader and a stand-in planner."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

import pytest

from api.auth import first_key, made_key
from api.beginning.fields import LABELS
from api.beginning.lists import READY, SAMPLE
from api.storage import NewKey, Role

from ..conftest import StartService
from ..journeys import Answer, Service
from .controls import Controls
from .test_front import HTML, OURS, storage_of

HOSTILE = '"><img src=x onerror=alert(1)><script>alert(2)</script>'


@pytest.fixture
def service(start_reading: StartService) -> Service:
    return start_reading()


def address_of(service: Service) -> str:
    return f"/begin/{service.club.rpartition('/')[2]}"


def sent(
    service: Service, deed: str, typed: dict[str, str], file: bytes | None = None, **headers: str
) -> Answer:  # fmt: skip
    """Send the form as a browser does; ticked days are several values of one field."""
    fields: dict[str, Any] = {name: text for name, text in typed.items() if not name.startswith("weekdays")}
    fields |= {name: text.split(", ") for name, text in typed.items() if name not in fields and text}
    return service.ask(
        "POST", address_of(service), data={**fields, "deed": deed},
        files={"file": ("list.csv", file)} if file is not None else {"file": ("", b"")},
        headers={**HTML, **headers}, follow_redirects=False,
    )  # fmt: skip


def came_back(answer: Answer) -> dict[str, str]:
    controls = Controls(answer.text)
    return {name: ", ".join(values) for name, values in controls.values.items()}


def sure_of(answer: Answer) -> str:
    """Return the hidden field with what was asked about."""
    (value,) = (has["value"] for _, has in Controls(answer.text).elements if has.get("name") == "sure")
    return value


def faults_in(answer: Answer) -> str:
    found = re.search(r'id="put-right".*?</div>', answer.text, flags=re.DOTALL)
    return re.sub(r"<[^>]*>", " ", found[0]) if found else ""


def test_the_blank_form_has_every_field_with_its_label(service: Service) -> None:
    answer = service.ask("GET", address_of(service), headers=HTML)
    assert answer.status_code == 200
    controls = Controls(answer.text)
    assert set(controls.values) == set(LABELS)
    ticks = {name for name in LABELS if name.startswith("weekdays")}
    assert set(LABELS) - ticks <= controls.labelled
    assert len(set(controls.ids)) == len(controls.ids)
    assert controls.pointed_at <= set(controls.ids)
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", controls.values["start"][0])
    assert faults_in(answer) == ""


def test_a_browser_may_give_back_what_was_typed(service: Service) -> None:
    """Under "no-store" going back would find a blank form."""
    assert service.ask("GET", address_of(service)).headers["cache-control"] == "private, no-cache"
    assert sent(service, "look", {}).headers["cache-control"] == "private, no-cache"


def test_a_form_becomes_a_scenario_and_its_plan_is_started(service: Service) -> None:
    answer = sent(service, "plan", {**SAMPLE, "start": "2027-01-01"})
    assert answer.status_code == 303, faults_in(answer)
    address = answer.headers["location"]
    job = service.ended(address.replace("/progress/", "/jobs/"))
    assert (job["state"], job["work"]) == ("done", "plan")
    (scenario,) = service.scenarios
    assert scenario["name"] == scenario["title"] == SAMPLE["title"]
    assert (scenario["targets"], scenario["season_start"]) == (len(READY["north"].lines), "2027-01-01")
    files = storage_of(service).scenarios.files(scenario["id"])[0]
    assert b'name = "Larkmoor"' in files.scenario_toml
    assert files.wish_list_csv.startswith(b"target,visits\r\nVenus,\r\nMars,\r\nJupiter,3\r\n")
    led = service.ask("GET", address, headers=HTML, follow_redirects=False)
    assert (led.status_code, led.headers["location"]) == (303, f"/year/{scenario['id']}")


def test_the_made_up_year_needs_one_press(service: Service) -> None:
    pressed = service.ask("POST", f"{address_of(service)}/sample", headers=HTML, follow_redirects=False)
    assert pressed.status_code == 303
    service.ended(pressed.headers["location"].replace("/progress/", "/jobs/"))
    (scenario,) = service.scenarios
    assert "made up" in scenario["name"]


def test_everything_typed_comes_back_when_something_is_wrong(service: Service) -> None:
    typed = {name: f"{number} ½ <{name}> & \"'" for number, name in enumerate(LABELS)}
    typed |= {"weekdays_1": "Mon, Fri", "weekdays_2": "Sun", "sky": "dark", "odds": "rare",
              "telescope_type": "refractor", "wishes": "\n\n M 31\nGalxy\t5\n"}  # fmt: skip
    answer = sent(service, "plan", typed)
    assert answer.status_code == 422
    assert came_back(answer) == typed
    assert service.scenarios == []


def test_all_faults_are_told_at_once_beside_their_fields_and_above(service: Service) -> None:
    wrong = {"latitude": "91", "focal_length": "", "nights": "500", "until_1": "12:30", "odds_may": "101",
             "wishes": "M 31\nGalxy\nm31"}  # fmt: skip
    answer = sent(service, "plan", {**SAMPLE, **wrong})
    assert answer.status_code == 422
    controls = Controls(answer.text)
    invalid = {has["name"]: has for tag, has in controls.elements if has.get("aria-invalid") == "true"}
    assert set(invalid) == {"latitude", "focal_length", "nights", "until_1", "odds_may"}
    assert all(f"{name}-fault" in has["aria-describedby"].split() for name, has in invalid.items())
    above = faults_in(answer)
    for label in ("Latitude", "Focal length", "How many nights", "Until, evenings 1", "May"):
        assert f"{label}: " in above
    assert "2 lines not understood" in above
    assert controls.pointed_at <= set(controls.ids)
    summary = next(has for _, has in controls.elements if has.get("id") == "put-right")
    assert "autofocus" in summary
    assert summary["tabindex"] == "-1"
    assert answer.text.index("Galxy", answer.text.index('id="understood"')) > 0
    assert "<title>To put right: " in answer.text


def test_nothing_typed_says_what_to_do(service: Service) -> None:
    above = faults_in(sent(service, "plan", {}))
    for words in (
        "Latitude: choose a town above",
        "Aperture: write the aperture",
        "Your wish-list: write one",
    ):
        assert words in above


def test_a_town_is_found_and_chosen_without_script(service: Service) -> None:
    typed = {**SAMPLE, "search": "besancon", "latitude": "", "longitude": "", "zone": "", "site_name": ""}
    found = sent(service, "find", typed)
    assert found.status_code == 200
    assert "Besançon, France" in found.text
    assert came_back(found) == typed
    deed = re.search(r'value="(place:\d+)"', found.text)
    assert deed
    chosen = came_back(sent(service, deed[1], typed))
    assert (chosen["site_name"], chosen["zone"], chosen["search"]) == ("Besançon", "Europe/Paris", "")
    assert float(chosen["latitude"]) == pytest.approx(47.25, abs=0.05)
    assert {name: chosen[name] for name in ("wishes", "aperture", "weekdays_2", "odds")} == {
        name: SAMPLE[name] for name in ("wishes", "aperture", "weekdays_2", "odds")
    }


@pytest.mark.parametrize(
    "deed", ["place:", "place:99999999", "place:-1", "place:x", "place:١", "list:none", "x" * 99]
)
def test_a_button_that_there_is_not_changes_nothing(service: Service, deed: str) -> None:
    answer = sent(service, deed, dict(SAMPLE))
    assert answer.status_code == 200
    assert came_back(answer) | {"start": ""} == SAMPLE
    assert service.scenarios == []


def test_a_town_nobody_knows_says_what_to_do(service: Service) -> None:
    assert "name a larger one nearby" in faults_in(sent(service, "find", {"search": "Zzzqx"}))


def test_a_town_that_was_typed_but_not_chosen_is_offered(service: Service) -> None:
    typed = {**SAMPLE, "search": "Graz", "latitude": "", "longitude": "", "zone": ""}
    answer = sent(service, "plan", typed)
    assert answer.status_code == 422
    assert "Graz, Austria" in answer.text


def test_a_missing_time_zone_is_proposed_and_looked_at_before_it_counts(service: Service) -> None:
    typed = {**SAMPLE, "zone": "", "latitude": "47° 16′ N", "longitude": "11,39"}
    first = sent(service, "plan", typed)
    assert first.status_code == 422
    assert "Time zone: filled in from Innsbruck" in faults_in(first)
    typed = came_back(first)
    assert typed["zone"] == "Europe/Vienna"
    assert service.scenarios == []
    assert sent(service, "plan", typed).status_code == 303


def test_a_zone_that_does_not_fit_its_place_is_asked_about_once(service: Service) -> None:
    typed = {**SAMPLE, "latitude": "49.9", "longitude": "-8.15", "zone": "Europe/Berlin"}
    first = sent(service, "plan", typed)
    assert first.status_code == 422
    assert "Time zone: the nearest town, Penzance, 188 km away, keeps Europe/London" in faults_in(first)
    assert service.scenarios == []
    checked = sent(service, "check", {**typed, "sure": sure_of(first)})
    typed["sure"] = sure_of(checked)
    assert sent(service, "plan", {**typed, "longitude": "-9"}).status_code == 422, "another place"
    assert sent(service, "plan", typed).status_code == 303
    assert len(service.scenarios) == 1


def test_what_the_planner_would_pass_over_is_told_beside_its_field(service: Service) -> None:
    typed = {**SAMPLE, "weekdays_2": "Wed, Sat", "odds_may": "1.3",
             "away": "24.12.2026 - 2.1.2027\n2027-02-30"}  # fmt: skip
    answer = sent(service, "plan", typed)
    assert answer.status_code == 422
    above = faults_in(answer)
    for words in ("Days, evenings 2: Wed stands in both", "May: read “1.3”, expected it in percent",
                  "line 2, “2027-02-30”: 30 February 2027 does not exist"):  # fmt: skip
        assert words in above
    assert "[" not in above
    assert service.scenarios == []


def test_what_is_printed_on_an_instrument_may_be_typed_with_its_units(service: Service) -> None:
    typed = {**SAMPLE, "elevation": "920 m", "aperture": "15 cm", "focal_length": "1250 mm", "barlow": "2x",
             "eyepiece_1": "32 mm", "eyepiece_1_field": "50°", "binoculars_power": "8x42",
             "binoculars_aperture": "", "binoculars_field": "6.5°"}  # fmt: skip
    shown = came_back(sent(service, "look", typed))
    assert (shown["binoculars_power"], shown["binoculars_aperture"]) == ("8", "42")
    assert shown["focal_length"] == "1250 mm"
    answer = sent(service, "plan", typed)
    assert answer.status_code == 303, faults_in(answer)
    (scenario,) = service.scenarios
    toml = storage_of(service).scenarios.files(scenario["id"])[0].scenario_toml
    for line in (b"elevation_m = 920\n", b"aperture_mm = 150\n", b"focal_length_mm = 1250\n", b"factor = 2\n",
                 b"focal_length_mm = 32\n", b"magnification = 8\n", b"aperture_mm = 42\n"):  # fmt: skip
        assert line in toml
    contrary = sent(service, "plan", {**typed, "binoculars_aperture": "50"})
    assert "Magnification of the binoculars: read “8x42”" in faults_in(contrary)


def test_the_form_says_priority_as_the_other_pages_do(service: Service) -> None:
    answer = sent(service, "check", {"wishes": "M 31 5"})
    assert "priority 5 of 5" in answer.text
    assert "weight" not in answer.text


@pytest.mark.parametrize("name", READY)
def test_a_ready_list_is_there_with_one_press_and_below_what_was_typed(service: Service, name: str) -> None:
    lines = READY[name].lines
    alone = came_back(sent(service, f"list:{name}", {}))["wishes"]
    assert alone.splitlines() == list(lines)
    below = came_back(sent(service, f"list:{name}", {"wishes": f"M 106\n{lines[0]}\n"}))["wishes"]
    assert below.splitlines()[:2] == ["M 106", lines[0]]
    assert set(below.splitlines()) == {"M 106", *lines}
    assert below.splitlines().count(lines[0]) == 1


def test_a_paste_of_110_lines_is_understood_line_by_line(service: Service) -> None:
    typed = {"wishes": "".join(f"Messier {number}\r\n" for number in range(1, 111))}
    answer = sent(service, "check", typed)
    assert "110 lines, all understood" in answer.text
    assert answer.text.count("<tr>") == 111
    assert "Andromeda Galaxy" in answer.text
    assert faults_in(answer) == "", "what else is still blank is not told when the list alone is checked"


def test_faulty_lines_stay_where_they_were_typed(service: Service) -> None:
    typed = {"wishes": "M 31\nGalxy\nM 13"}
    answer = sent(service, "check", typed)
    assert came_back(answer)["wishes"] == typed["wishes"]
    assert "1 of 3 not understood" in answer.text


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_added_below_what_was_typed(service: Service, encoding: str) -> None:
    file = "Barnard’s Star\nM 13\n".encode(encoding)
    answer = sent(service, "check", {"wishes": "M 31\n"}, file)
    assert came_back(answer)["wishes"] == "M 31\nBarnard’s Star\nM 13\n"


def test_a_chosen_file_counts_whichever_button_is_pressed(service: Service) -> None:
    answer = sent(service, "plan", {**SAMPLE, "wishes": ""}, b"target,priority\r\nM 31,5\r\n")
    assert answer.status_code == 303
    (scenario,) = service.scenarios
    assert (
        storage_of(service).scenarios.files(scenario["id"])[0].wish_list_csv
        == b"target,priority\r\nM 31,5\r\n"
    )


@pytest.mark.parametrize(
    ("file", "words"),
    [(bytes([0, 1, 2, 255]), "no plain text"), (b"target;priority\nM 13;5\n", "not added")],
)
def test_a_file_that_cannot_be_added_says_why_and_the_list_stays(
    service: Service, file: bytes, words: str
) -> None:
    typed = {**SAMPLE, "wishes": "target,priority\nM 31,5\n", "start": "2027-01-01"}
    answer = sent(service, "plan", typed, file)
    assert words in faults_in(answer)
    assert came_back(answer) == typed
    assert service.scenarios == []


def test_hostile_texts_are_only_texts(service: Service) -> None:
    typed = dict.fromkeys(LABELS, HOSTILE)
    for deed in ("plan", "check", "find", "list:north", HOSTILE):
        answer = sent(service, deed, typed)
        elements = Controls(answer.text).elements
        assert not [has for tag, has in elements if tag == "img" or "onerror" in has]
        scripts = [has.get("src", "") for tag, has in elements if tag == "script"]
        assert all(one.startswith("/static/") for one in scripts)
        assert came_back(answer)["site_name"] == HOSTILE


def test_the_same_form_sent_twice_makes_one_scenario(service: Service) -> None:
    first, second = (sent(service, "plan", dict(SAMPLE)) for _ in range(2))
    assert first.headers["location"] == second.headers["location"]
    assert len(service.scenarios) == 1
    other = sent(service, "plan", {**SAMPLE, "nights": "300"})
    assert other.headers["location"] != first.headers["location"]
    assert len(service.scenarios) == 2


def test_what_this_service_does_not_take_is_told_beside_its_field(start_reading: StartService) -> None:
    service = start_reading(most_targets=3, zones=("Europe/London",))
    above = faults_in(sent(service, "plan", dict(SAMPLE)))
    assert "Your wish-list: read “42”, expected at most 3 at this service." in above
    few = {**SAMPLE, "wishes": "M 31", "zone": "Europe/Vienna"}
    assert "Time zone: read “Europe/Vienna”" in faults_in(sent(service, "plan", few))


def test_a_form_too_large_is_refused_in_words(service: Service) -> None:
    answer = sent(service, "plan", {**SAMPLE, "wishes": "M 31 " * 500_000})
    assert answer.status_code in {400, 413}
    assert answer.headers["content-type"].startswith("text/html")


def test_only_who_may_plan_may_begin(start_reading: StartService) -> None:
    service = start_reading(keys="required")
    storage = storage_of(service)
    service.client.headers["Authorization"] = f"Bearer {first_key(storage)}"
    club = service.club.rpartition("/")[2]
    del service.client.headers["Authorization"]
    asked = service.ask("GET", f"/begin/{club}", headers=HTML)
    assert asked.status_code == 401
    assert f'name="to" value="/begin/{club}"' in asked.text
    for role, status in ((Role.READER, 403), (Role.MEMBER, 403), (Role.PLANNER, 200)):
        key = made_key(storage, NewKey(club, role, "a phone's"))[1]
        cookie = {"Cookie": f"duskwright-key={key}"}
        assert service.ask("GET", f"/begin/{club}", headers={**HTML, **cookie}).status_code == status
        posted = service.ask(
            "POST", f"/begin/{club}", headers={**HTML, **OURS, **cookie}, data={"deed": "look"}
        )
        assert posted.status_code == status
        unasked = service.ask("POST", f"/begin/{club}", headers={**HTML, **cookie}, data={"deed": "look"})
        assert unasked.status_code == 403, "a cookie alone changes nothing"


def test_towns_are_told_as_one_types(service: Service) -> None:
    told = service.get("/begin/places?q=graz").json()["places"]
    assert set(told[0]) >= {"name", "country", "latitude_deg", "longitude_deg", "zone"}
    assert (told[0]["name"], told[0]["zone"]) == ("Graz", "Europe/Vienna")
    assert service.get("/begin/places").json() == {"places": []}
    assert service.get(f"/begin/places?q={'a' * 101}").status_code == 422


def test_a_zone_is_proposed_for_a_place(service: Service) -> None:
    told = service.get("/begin/zone?latitude_deg=47.27&longitude_deg=11.40").json()
    assert (told["zone"], told["near"]) == ("Europe/Vienna", "Innsbruck")
    for query in ("", "?latitude_deg=91&longitude_deg=0", "?latitude_deg=nan&longitude_deg=0"):
        assert service.get(f"/begin/zone{query}").status_code == 422


@pytest.mark.parametrize(("now_utc", "latitude", "longitude", "zone", "begins"), [
    ("2027-01-08T23:30Z", "-36.85", "174.76", "Pacific/Auckland", "2027-01-09"),
    ("2027-01-09T00:30Z", "34.05", "-118.24", "America/Los_Angeles", "2027-01-08"),
])  # fmt: skip
def test_a_season_nobody_dated_begins_today_by_the_clock_of_its_site(
    service: Service, monkeypatch: pytest.MonkeyPatch, now_utc: str, latitude: str, longitude: str, zone: str,
    begins: str,
) -> None:  # fmt: skip
    now = datetime.fromisoformat(now_utc)
    monkeypatch.setattr(storage_of(service), "now", lambda: now)
    place = {"latitude": latitude, "longitude": longitude, "zone": zone}
    answer = sent(service, "plan", {**SAMPLE, **place, "start": ""})
    assert answer.status_code == 303, faults_in(answer)
    (scenario,) = service.scenarios
    assert scenario["season_start"] == begins
