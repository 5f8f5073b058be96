"""A scenario's files, to be read and changed as they are: what is too much for a form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Depends, Request, Response

from scheduler.errors import InvalidValue, ScenarioFaults
from scheduler.scenario.text import decoded

from ..auth import needs
from ..deps import Services, TheServices
from ..errors import Stale
from ..kept import changed
from ..page import led_to, page
from ..storage import Role, ScenarioFiles

router = APIRouter(include_in_schema=False)

AS_IT_WAS = {"Cache-Control": "private, no-cache"}
"""Unlike "no-store" it lets a browser give back what was typed when one goes back."""
MOST_BYTES = 10_000_000


@dataclass(frozen=True, slots=True)
class Edited:
    """Two files as they were edited, and the revision they were when editing began."""

    scenario_toml: str
    wish_list_csv: str
    revision: int


async def _edited(request: Request) -> Edited | None:
    """Return what was sent; None where it is not what this page sends."""
    form = await request.form(max_files=0, max_fields=10, max_part_size=MOST_BYTES)
    toml, table, revision = (form.get(name) for name in ("scenario_toml", "wish_list_csv", "revision"))
    if not (isinstance(toml, str) and isinstance(table, str) and isinstance(revision, str)):
        return None
    if not (revision.isascii() and revision.isdecimal() and len(revision) < 18):
        return None
    return Edited(toml.replace("\r\n", "\n"), table.replace("\r\n", "\n"), int(revision))


@router.get("/files/{scenario}", dependencies=[needs(Role.PLANNER)])
def show_files(request: Request, services: TheServices, scenario: str) -> Response:
    """Show a scenario's two files to be edited."""
    return _page(request, services, scenario, _kept(services, scenario))


@router.post("/files/{scenario}", dependencies=[needs(Role.PLANNER)])
def take_files(
    request: Request, services: TheServices, scenario: str, edited: Annotated[Edited | None, Depends(_edited)]
) -> Response:
    """Keep the edited files as the scenario's next revision, read whole before; or say what is wrong."""
    if edited is None:
        return show_files(request, services, scenario)

    def edit(files: ScenarioFiles) -> ScenarioFiles:
        texts = edited.scenario_toml.encode(), edited.wish_list_csv.encode()
        return replace(files, scenario_toml=texts[0], wish_list_csv=texts[1])

    try:
        changed(services, scenario, frozenset({edited.revision}), edit)
    except ScenarioFaults as found:
        return _page(request, services, scenario, edited, [str(one) for one in found.faults])
    except InvalidValue as refused:
        return _page(request, services, scenario, edited, [str(refused)])
    except Stale:
        newest = replace(edited, revision=services.storage.scenarios.get(scenario).revision)
        return _page(request, services, scenario, newest, stale=True)
    return led_to(f"/year/{scenario}")


@router.post("/files/{scenario}/remove", dependencies=[needs(Role.PLANNER)])
def remove_year(services: TheServices, scenario: str) -> Response:
    """Delete a scenario with its plans, its log and its jobs, and lead to those that are left."""
    services.storage.scenarios.delete(scenario, None)
    return led_to("/")


def _kept(services: Services, scenario: str) -> Edited:
    files, revision = services.storage.scenarios.files(scenario)
    toml, table = decoded(files.scenario_toml), decoded(files.wish_list_csv)
    assert toml is not None, "what is kept has been read before"
    assert table is not None, "what is kept has been read before"
    return Edited(toml.replace("\r\n", "\n"), table.replace("\r\n", "\n"), revision)


def _page(
    request: Request, services: Services, scenario: str, edited: Edited, faults: Sequence[str] = (), *,
    stale: bool = False,
) -> Response:  # fmt: skip
    return page(
        request, "files.html", status=422 if faults else 409 if stale else 200, headers=AS_IT_WAS,
        scenario=services.storage.scenarios.get(scenario), edited=edited, faults=faults, stale=stale,
    )  # fmt: skip
