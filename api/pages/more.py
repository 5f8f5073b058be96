"""More targets for a year: a line each, put below its wish-list as it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from scheduler.errors import Fault, InvalidValue, ScenarioFaults
from scheduler.scenario.text import decoded

from ..auth import needs
from ..beginning.pasted import with_more
from ..beginning.reading import catalogue_knows
from ..deps import Services, TheServices
from ..kept import changed
from ..page import led_to, page
from ..storage import Role, ScenarioFiles

router = APIRouter(include_in_schema=False)

MOST_SIGNS = 100_000
_PLANNER = [needs(Role.PLANNER)]


@router.get("/more/{scenario}", dependencies=_PLANNER)
def ask_for_more(
    request: Request, services: TheServices, scenario: str, name: Annotated[str, Query(max_length=200)] = ""
) -> Response:
    """Show the form, a name filled in where one was looked for in vain."""
    return _page(request, services, scenario, name)


@router.post("/more/{scenario}", dependencies=_PLANNER)
def take_more(
    request: Request, services: TheServices, scenario: str,
    more: Annotated[str, Form(max_length=MOST_SIGNS)] = "",
) -> Response:  # fmt: skip
    """Put targets below a wish-list, all of them or none, and lead to the year, to be planned anew."""
    if not more.strip():
        return _page(request, services, scenario, more, ["A target a line, please."])

    def edit(files: ScenarioFiles) -> ScenarioFiles:
        kept, join = decoded(files.wish_list_csv) or "", services.door.joined_wish_lists
        return replace(files, wish_list_csv=with_more(kept, more, catalogue_knows, join).encode())

    try:
        changed(services, scenario, None, edit)
    except ScenarioFaults as found:
        return _page(request, services, scenario, more, [_in_words(one) for one in found.faults])
    except InvalidValue as refused:
        return _page(request, services, scenario, more, [str(refused)])
    return led_to(f"/year/{scenario}")


def _in_words(fault: Fault) -> str:
    """Return what is wrong with a line, by what it says and not by its row in a file nobody sees here."""
    hint = f" Did you mean {' or '.join(fault.near)}?" if fault.near else ""
    column = f"{fault.column} " if fault.column not in (None, "target") else ""
    return f"{column}“{fault.read}”: expected {fault.expected}.{hint}"


def _page(
    request: Request, services: Services, scenario: str, more: str, faults: Sequence[str] = ()
) -> Response:
    return page(
        request, "more.html", status=422 if faults else 200,
        scenario=services.storage.scenarios.get(scenario), more=more, faults=faults,
    )  # fmt: skip
