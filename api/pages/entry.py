"""What a club is called, and who comes in: its keys, made and revoked by its owner."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from ..auth import made_key, needs
from ..deps import Services, TheServices, base_of, is_of_this_machine
from ..errors import NoSuch
from ..page import led_to, page
from ..shapes.base import Name
from ..storage import KeyRecord, NewKey, Role

router = APIRouter(include_in_schema=False)

MOST_KEYS = 500
MAY = {
    Role.READER: "looks: years, nights, odds and reasons",
    Role.MEMBER: "also logs nights and asks what-ifs",
    Role.PLANNER: "also plans years and publishes the calendar",
    Role.OWNER: "also makes and revokes keys",
}
"""What each role lets one do beside what those before it do, in a club's words."""
_OWNER = [needs(Role.OWNER)]


@router.get("/entry/{club}", dependencies=_OWNER)
def show_keys(request: Request, services: TheServices, club: str) -> Response:
    """Show what a club is called and who has a key of it."""
    return _page(request, services, club)


@router.post("/entry/{club}", dependencies=_OWNER)
def make_key(
    request: Request, services: TheServices, club: str, name: Annotated[Name, Form()],
    role: Annotated[Role, Form()],
) -> Response:  # fmt: skip
    """Make a key and tell it: now, and never again."""
    record, token = made_key(services.storage, NewKey(club, role, name, None))
    return _page(request, services, club, status=201, made=record, token=token)


@router.post("/entry/{club}/name", dependencies=_OWNER)
def rename_club(services: TheServices, club: str, name: Annotated[Name, Form()]) -> Response:
    """Call a club something else."""
    services.storage.clubs.rename(club, name, None)
    return led_to(f"/entry/{club}")


@router.post("/entry/{club}/revoke", dependencies=_OWNER)
def revoke_key(services: TheServices, club: str, key: Annotated[str, Form(max_length=40)]) -> Response:
    """Let a key of a club open nothing from now on."""
    if key not in {one.id for one in _keys(services, club)}:
        raise NoSuch("key", key)
    services.storage.keys.revoke(key)
    return led_to(f"/entry/{club}")


def _keys(services: Services, club: str) -> list[KeyRecord]:
    return list(services.storage.keys.page(club, None, MOST_KEYS).items)


def _page(
    request: Request, services: Services, club: str, *, status: int = 200, made: KeyRecord | None = None,
    token: str = "",
) -> Response:  # fmt: skip
    now, keys, base = services.storage.now(), _keys(services, club), base_of(services, request)
    counts = [one for one in keys if one.revoked is None and (one.expires is None or one.expires > now)]
    return page(
        request, "entry.html", status=status, club=services.storage.clubs.get(club), made=made, token=token,
        keys=counts, gone=[one for one in keys if one not in counts], may=MAY, usual=Role.MEMBER,
        own=getattr(request.state, "key_id", None), base=base, only_here=is_of_this_machine(base),
        needed=services.settings.keys != "none",
    )  # fmt: skip
