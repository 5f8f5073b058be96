from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest

from .conftest import StartService
from .journeys import Service, assert_is_problem, files_of
from .stand_ins import TOML, WISH_LIST, StandInPlanner

HOSTILE = [
    "../../etc/passwd", "'; DROP TABLE scenarios; --", "<script>alert(1)</script>", "=1+1", "{{7*7}}", "%00",
    "a" * 200, "Nuit étoilée", "夜空", "🔭", 'quote"name',
]  # fmt: skip
REFUSED = ["", "   ", "two\nlines", "nul\0", "esc\x1b[2J", "left\u202eright", "a" * 201, "tab\t"]


def test_a_scenario_is_kept_and_says_what_was_read(service: Service) -> None:
    answer = service.keep("winter-year")
    shown = answer.json()
    assert answer.status_code == 201
    assert answer.headers["location"] == shown["links"]["self"] == f"/scenarios/{shown['id']}"
    assert answer.headers["etag"] == '"r1"'
    assert shown["name"] == "winter-year"
    assert shown["title"] == "A year from the allotment"
    assert (shown["targets"], shown["season_start"], shown["season_nights"]) == (2, "2026-09-01", 365)
    assert service.get(answer.headers["location"]).json() == shown


def test_files_come_back_byte_for_byte(service: Service) -> None:
    wish_list = b"target,priority\r\nM 1,5\nM 2,3"
    toml = TOML + "# Gr\u00fc\u00dfe\r\n".encode()
    links = service.keep("exact", toml, wish_list).json()["links"]
    fetched = service.get(links["wish_list_csv"])
    assert fetched.content == wish_list
    assert fetched.headers["content-type"] == "text/csv; charset=utf-8"
    assert service.get(links["scenario_toml"]).content == toml
    assert service.get(links["scenario_toml"]).headers["content-type"] == "application/toml"


@pytest.mark.parametrize("name", HOSTILE)
def test_a_strange_name_is_only_a_name(service: Service, name: str) -> None:
    answer = service.keep(name)
    assert answer.status_code == 201
    assert answer.json()["name"] == name
    kept = str(answer.headers["location"])
    assert service.get(kept).json()["name"] == name
    plan = service.planned(kept)
    assert service.get(plan).json()["scenario"] == name
    assert service.get(f"{plan}/schedule.csv").headers["content-disposition"] == (
        'attachment; filename="schedule.csv"'
    )
    assert service.get("/docs").status_code == 200


@pytest.mark.parametrize("name", REFUSED)
def test_an_unprintable_name_is_refused(service: Service, name: str) -> None:
    problem = assert_is_problem(service.keep(name), 422, "invalid-request")
    assert [entry["pointer"] for entry in problem["errors"]] == ["#/name"]


def test_every_fault_of_a_bad_wish_list_is_listed(service: Service) -> None:
    bad = b"target,priority\r\nM 13,9\r\nNebula of Nowhere,x\r\nM 57,3\r\n"
    problem = assert_is_problem(service.keep("bad", b"nothing", bad), 422, "scenario-faults")
    assert [entry["pointer"] for entry in problem["errors"]] == [
        "#/scenario_toml/site/latitude_deg", "#/wish_list_csv/2/priority", "#/wish_list_csv/3/target",
        "#/wish_list_csv/3/priority",
    ]  # fmt: skip
    assert [(e["row"], e["column"], e["read"]) for e in problem["errors"][1:]] == [
        (2, "priority", "9"), (3, "target", "Nebula of Nowhere"), (3, "priority", "x"),
    ]  # fmt: skip
    assert problem["errors"][2]["near"] == ["M 1"]
    assert problem["detail"] == "4 faults in the scenario"
    assert service.scenarios == []


def test_all_missing_parts_are_named_at_once(service: Service) -> None:
    answer = service.ask("POST", f"{service.club}/scenarios", files={"other": b"x"})
    problem = assert_is_problem(answer, 422, "invalid-request")
    assert {e["pointer"] for e in problem["errors"]} == {"#/name", "#/scenario_toml", "#/wish_list_csv"}


def test_a_damaged_form_is_refused(service: Service) -> None:
    headers = {"Content-Type": "multipart/form-data; boundary=x"}
    answer = service.ask(
        "POST", f"{service.club}/scenarios", content=b"--y\r\nno form at all", headers=headers
    )
    assert_is_problem(answer, 400, "malformed-request")


@pytest.mark.parametrize(
    "options", [{"json": {"name": "x"}}, {"content": b"name=x"}, {"data": {"name": "x"}}]
)
def test_a_body_of_another_type_is_refused(service: Service, options: dict[str, object]) -> None:
    problem = assert_is_problem(
        service.ask("POST", f"{service.club}/scenarios", **options), 415, "wrong-media-type"
    )
    assert problem["expected"] == "multipart/form-data"


def test_two_clients_cannot_overwrite_each_other(service: Service) -> None:
    scenario = service.kept("first")
    ours = theirs = str(service.get(scenario).headers["etag"])
    changed = service.replace(scenario, "ours", ours)
    assert (changed.status_code, changed.headers["etag"]) == (200, '"r2"')
    late = service.replace(scenario, "theirs", theirs)
    problem = assert_is_problem(late, 412, "stale")
    assert problem["current"] == late.headers["etag"] == '"r2"'
    assert service.get(scenario).json()["name"] == "ours"
    assert service.replace(scenario, "theirs", problem["current"]).json()["revision"] == 3


def test_of_many_simultaneous_changes_exactly_one_is_made(service: Service) -> None:
    scenario, clients = service.kept(), 8
    together = Barrier(clients)

    def change(client: int) -> int:
        together.wait(10)
        return service.replace(scenario, f"by-{client}", '"r1"').status_code

    with ThreadPoolExecutor(clients) as pool:
        seen = sorted(pool.map(change, range(clients)))
    assert seen == [200] + [412] * (clients - 1)
    assert service.get(scenario).json()["revision"] == 2


@pytest.mark.parametrize("method", ["PUT", "DELETE"])
def test_a_change_without_if_match_is_refused(service: Service, method: str) -> None:
    scenario = service.kept()
    body = {"data": {"name": "x"}, "files": files_of()} if method == "PUT" else {}
    assert_is_problem(service.ask(method, scenario, **body), 428, "precondition-missing")
    assert service.get(scenario).json()["revision"] == 1


@pytest.mark.parametrize(
    "if_match", ['W/"r1"', "r1", '"r2"', '"r01"', '"else"', "", '"r1', '"' + "r1" * 5000 + '"']
)
def test_a_tag_that_is_not_exactly_ours_changes_nothing(service: Service, if_match: str) -> None:
    scenario = service.kept()
    assert_is_problem(service.replace(scenario, "x", if_match), 412, "stale")


@pytest.mark.parametrize("if_match", ['"r1"', "*", '"else", "r1"', '"r1","r2"'])
def test_a_tag_that_names_the_version_lets_the_change_through(service: Service, if_match: str) -> None:
    assert service.replace(service.kept(), "x", if_match).status_code == 200


def test_a_scenario_goes_with_all_its_plans_and_jobs(service: Service) -> None:
    scenario = service.kept()
    job = service.started(scenario)
    plan = service.ended(job)["links"]["plan"]
    gone = service.ask("DELETE", scenario, headers={"If-Match": '"r1"'})
    assert (gone.status_code, gone.content) == (204, b"")
    for address in (
        scenario,
        f"{scenario}/wish-list.csv",
        f"{scenario}/plans",
        plan,
        f"{plan}/nights.csv",
        job,
    ):
        assert_is_problem(service.get(address), 404, "no-such-thing")
    again = service.ask("DELETE", scenario, headers={"If-Match": "*"})
    assert_is_problem(again, 404, "no-such-thing")


def test_a_scenario_at_work_cannot_be_deleted(service: Service, planner: StandInPlanner) -> None:
    planner.held = True
    scenario = service.kept()
    job = service.started(scenario)
    refused = service.ask("DELETE", scenario, headers={"If-Match": "*"})
    assert assert_is_problem(refused, 409, "still-at-work")["job"] == job.rpartition("/")[2]
    service.ask("POST", f"{job}/cancel")
    service.ended(job)
    assert service.ask("DELETE", scenario, headers={"If-Match": "*"}).status_code == 204


def test_what_you_have_already_is_not_sent_again(service: Service) -> None:
    scenario = service.kept()
    for address in (scenario, f"{scenario}/scenario.toml", f"{scenario}/wish-list.csv"):
        tag = str(service.get(address).headers["etag"])
        known = service.get(address, If_None_Match=f'"old", W/{tag}')
        assert (known.status_code, known.content, known.headers["etag"]) == (304, b"", tag)
    service.replace(scenario, "newer", "*")
    assert service.get(scenario, If_None_Match='"r1"').status_code == 200


def test_pages_hold_every_scenario_once_newest_first(service: Service) -> None:
    kept = [service.kept(f"year-{year}") for year in range(7)]
    seen: list[str] = []
    sizes = []
    following: str | None = f"{service.club}/scenarios?limit=3"
    while following:
        page = service.get(following).json()
        sizes.append(len(page["items"]))
        seen += [item["links"]["self"] for item in page["items"]]
        following = page["next"]
    assert seen == kept[::-1]
    assert sizes == [3, 3, 1]


def test_a_page_is_not_shifted_by_what_comes_and_goes(service: Service) -> None:
    kept = [service.kept(f"year-{year}") for year in range(4)]
    first = service.get(f"{service.club}/scenarios?limit=2").json()
    service.kept("newcomer")
    service.ask("DELETE", kept[2], headers={"If-Match": "*"})
    second = service.get(first["next"]).json()
    assert [item["links"]["self"] for item in second["items"]] == [kept[1], kept[0]]
    assert second["next"] is None


@pytest.mark.parametrize(
    "query", ["limit=0", "limit=201", "limit=x", "cursor=0", "cursor=-3", f"cursor={10**30}"]
)
def test_a_page_that_cannot_be_is_refused(service: Service, query: str) -> None:
    problem = assert_is_problem(service.get(f"{service.club}/scenarios?{query}"), 422, "invalid-request")
    assert problem["errors"][0]["parameter"] == query.partition("=")[0]


def test_posts_from_many_threads_lose_nothing(start_service: StartService) -> None:
    service, clients, each = start_service(), 8, 6
    club = service.club

    def keep(client: int) -> list[str]:
        return [service.kept(f"c{client}-{number}") for number in range(each)]

    with ThreadPoolExecutor(clients) as pool:
        kept = {address for addresses in pool.map(keep, range(clients)) for address in addresses}
    items = service.get(f"{club}/scenarios?limit=200").json()["items"]
    assert len(kept) == clients * each
    assert {item["links"]["self"] for item in items} == kept
    assert {item["name"] for item in items} == {f"c{c}-{n}" for c in range(clients) for n in range(each)}


@pytest.mark.parametrize("id", ["x", "%00", "a" * 5000, "1%20OR%201=1", "%F0%9F%94%AD", "%ff"])  # fmt: skip
def test_an_id_nobody_gave_is_not_found(service: Service, id: str) -> None:  # noqa: A002
    service.kept()
    answer = service.get(f"/plans/{id}")
    assert answer.status_code == 404
    assert answer.json()["type"] in {"/problems/no-such-thing", "/problems/no-such-address"}


def test_bytes_that_are_no_text_are_a_fault_not_a_failure(service: Service) -> None:
    assert_is_problem(service.keep("x", b"\xff\xfe", WISH_LIST), 422, "scenario-faults")
