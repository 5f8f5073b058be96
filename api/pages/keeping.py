"""What browsers keep for places without a network: the year, the coming nights, and what they are made of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from hashlib import sha256

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse

from ..auth import TheBearer, needs
from ..deps import Services, TheServices
from ..page import address_of, statics
from ..storage import Role
from .night import has_begun
from .silent import unlogged_of
from .standing import Standing, noon_after, standing_of

router = APIRouter(include_in_schema=False)

COMING, BEHIND = 3, 3
_KEEPER_HEADERS = {
    # What a worker may reach is said by its own answer, not by the page that starts it.
    "Content-Security-Policy": "default-src 'none'; connect-src 'self'",
    "Cache-Control": "no-cache",
}


@router.get("/keeper.js")
async def read_keeper() -> Response:
    """Fetch the worker that keeps pages; it stands here, since it may only keep what is below its address."""
    parts = (statics()[name][0] for name in ("queue.js", "red.js", "keeper.js"))
    return Response(b"\n".join(parts), 200, _KEEPER_HEADERS, "text/javascript")


@router.get("/keep/{scenario}", dependencies=[needs(Role.READER)])
def list_to_keep(services: TheServices, bearer: TheBearer, scenario: str) -> Response:
    """List what is worth keeping: the year, the next nights, those still to log, and all fixed files.

    `coming` holds the nights that come, in their order, and when each is over [Unix s]. `mark` is another as
    soon as any of the pages may show something else.
    """
    standing = standing_of(services, scenario)
    files = [address_of(name) for name in statics()]
    if standing is None:
        return JSONResponse({"mark": "", "pages": [], "coming": [], "files": files})
    coming, zone = standing.coming[:COMING], standing.plan.site.local
    return JSONResponse({
        "mark": _mark(services, standing, [bearer.role.value, *files]),
        "pages": list(_pages(standing, may_log=bearer.role.covers(Role.MEMBER))),
        "coming": [
            {"page": f"/night/{scenario}/{one}", "over": noon_after(one, zone).timestamp()}
            for one in coming
        ],
        "files": files,
    })  # fmt: skip


def _pages(standing: Standing, *, may_log: bool) -> Iterator[str]:
    scenario = standing.scenario.id
    coming = [one for one in standing.planned if one >= standing.today][:COMING]
    yield f"/year/{scenario}"
    for evening in dict.fromkeys([standing.today, *coming, *unlogged_of(standing)[-BEHIND:]]):
        if evening in standing.planned:
            yield f"/night/{scenario}/{evening}"
        if evening in standing.plan.season.evenings and may_log:
            yield f"/log/{scenario}/{evening}"


def _mark(services: Services, standing: Standing, shown_by: Sequence[str]) -> str:
    """Return a word for all that pages of a scenario show by: its plan, its log, the day, and who looks."""
    storage, scenario, today = services.storage, standing.scenario, standing.today
    told = (
        standing.newest.id, scenario.revision, len(storage.outcomes.lines(scenario.id)),
        standing.plan.announced, today, has_begun(standing, today, storage.now()), *shown_by,
    )  # fmt: skip
    return sha256(repr(told).encode()).hexdigest()[:16]
