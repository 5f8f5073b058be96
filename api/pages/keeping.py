"""What browsers keep for places without a network: the year, the coming nights, and what they are made of."""

from __future__ import annotations

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse

from ..auth import TheBearer, needs
from ..deps import TheServices
from ..page import address_of, statics
from ..storage import Role
from .silent import unlogged_of
from .standing import standing_of

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
    parts = (statics()[name][0] for name in ("queue.js", "keeper.js"))
    return Response(b"\n".join(parts), 200, _KEEPER_HEADERS, "text/javascript")


@router.get("/keep/{scenario}", dependencies=[needs(Role.READER)])
def list_to_keep(services: TheServices, bearer: TheBearer, scenario: str) -> Response:
    """List what is worth keeping: the year, the next nights, those still to log, and all fixed files."""
    standing = standing_of(services, scenario)
    pages: list[str] = []
    if standing is not None:
        pages.append(f"/year/{scenario}")
        coming = [one for one in standing.planned if one >= standing.today][:COMING]
        for evening in dict.fromkeys([standing.today, *coming, *unlogged_of(standing)[-BEHIND:]]):
            if evening in standing.planned:
                pages.append(f"/night/{scenario}/{evening}")
            if evening in standing.plan.season.evenings and bearer.role.covers(Role.MEMBER):
                pages.append(f"/log/{scenario}/{evening}")
    return JSONResponse({"pages": pages, "files": [address_of(name) for name in statics()]})
