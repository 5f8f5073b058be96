"""Keys: made and revoked here; a token is told once."""

from __future__ import annotations

from fastapi import APIRouter, Response

from ..auth import made_key, needs, needs_service
from ..deps import Cursor, JsonOnly, Limit, TheServices
from ..shapes import KeyPage, KeyShape, KeyWish, MadeKeyShape, answers, next_page, refusals
from ..storage import NewKey, Role

router = APIRouter(tags=["keys"])

_MADE = {**answers(201, Location="Where it is kept."), **refusals(400, 401, 403, 404, 413, 415)}


@router.post(
    "/clubs/{club}/keys", status_code=201, response_model=MadeKeyShape,
    dependencies=[needs(Role.OWNER), JsonOnly], responses=_MADE,
)  # fmt: skip
def create_key(services: TheServices, club: str, wish: KeyWish, response: Response) -> MadeKeyShape:
    """Make a key of a club. Its token is told now and never again."""
    return _made(services, club, wish, response)


@router.get(
    "/clubs/{club}/keys", response_model=KeyPage, dependencies=[needs(Role.OWNER)],
    responses=refusals(401, 403, 404),
)  # fmt: skip
def list_keys(services: TheServices, club: str, cursor: Cursor = None, limit: Limit = 50) -> KeyPage:
    """List a club's keys, newest first, those that count no more too."""
    return _listed(services, club, f"/clubs/{club}/keys", cursor, limit)


@router.post(
    "/keys", status_code=201, response_model=MadeKeyShape,
    dependencies=[needs_service(Role.OWNER), JsonOnly], responses=_MADE,
)  # fmt: skip
def create_service_key(services: TheServices, wish: KeyWish, response: Response) -> MadeKeyShape:
    """Make a key of the whole service, as for somebody who helps to run it. Its token is told once."""
    return _made(services, None, wish, response)


@router.get(
    "/keys", response_model=KeyPage, dependencies=[needs_service(Role.OWNER)], responses=refusals(401, 403)
)
def list_service_keys(services: TheServices, cursor: Cursor = None, limit: Limit = 50) -> KeyPage:
    """List the keys of the whole service, newest first."""
    return _listed(services, None, "/keys", cursor, limit)


@router.get(
    "/keys/{key}", response_model=KeyShape, dependencies=[needs(Role.OWNER)],
    responses=refusals(401, 403, 404),
)  # fmt: skip
def read_key(services: TheServices, key: str) -> KeyShape:
    """Read what is known of a key; never its secret."""
    return KeyShape.of(services.storage.keys.get(key))


@router.post(
    "/keys/{key}/revoke", response_model=KeyShape, dependencies=[needs(Role.OWNER)],
    responses=refusals(401, 403, 404),
)  # fmt: skip
def revoke_key(services: TheServices, key: str) -> KeyShape:
    """Let a key open nothing from now on. Again changes nothing."""
    return KeyShape.of(services.storage.keys.revoke(key))


def _made(services: TheServices, club: str | None, wish: KeyWish, response: Response) -> MadeKeyShape:
    record, token = made_key(services.storage, NewKey(club, wish.role, wish.name, wish.expires))
    response.headers["Location"] = f"/keys/{record.id}"
    return MadeKeyShape.of(record, token=token)


def _listed(services: TheServices, club: str | None, path: str, cursor: int | None, limit: int) -> KeyPage:
    page = services.storage.keys.page(club, cursor, limit)
    return KeyPage(items=[KeyShape.of(one) for one in page.items], next=next_page(path, page.cursor, limit))
