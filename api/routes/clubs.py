"""Clubs: what belongs together, and goes together."""

from __future__ import annotations

from functools import partial
from hashlib import sha256

from fastapi import APIRouter, Response

from ..auth import ANY_KEY, TheBearer, needs, needs_service
from ..conditional import ExpectedRevisions, IfNoneMatch, answer_if_new
from ..deps import Cursor, JsonBody, JsonOnly, Limit, TheServices, body_of
from ..errors import UnreadableClub
from ..kept import check_club
from ..shapes import ETAG, IF_NEW, ClubPage, ClubShape, ClubWish, answers, next_page, refusals
from ..storage import ClubFile, ClubRecord, Role

router = APIRouter(tags=["clubs"])

EMPTY_CLUB = {
    "format": "duskwright-club", "version": 3, "left_out": "keys",
    "club": {"id": "5b0e6d1f2a3c49887766", "revision": 1, "name": "Hendra Stargazers",
             "created": "2026-09-12T20:00:00+00:00", "changed": "2026-09-12T20:00:00+00:00"},
    "members": [], "sites": [], "telescopes": [], "scenarios": [], "feeds": [], "jobs": [],
}  # fmt: skip


@router.post(
    "/clubs", status_code=201, response_model=ClubShape,
    dependencies=[needs_service(Role.OWNER), JsonOnly],
    responses={**answers(201, Location="Where it is kept.", ETag=ETAG), **refusals(400, 401, 403, 413, 415)},
)  # fmt: skip
def create_club(services: TheServices, wish: ClubWish, response: Response) -> ClubShape:
    """Keep a new club. Its first key is made at its `keys`."""
    record = services.storage.clubs.add(wish.name)
    response.headers["Location"] = f"/clubs/{record.id}"
    return _shown(record, response)


@router.get("/clubs", response_model=ClubPage, dependencies=[ANY_KEY], responses=refusals(401))
def list_clubs(
    services: TheServices, bearer: TheBearer, cursor: Cursor = None, limit: Limit = 50
) -> ClubPage:
    """List the clubs the key opens, newest first."""
    if bearer.club is not None:
        return ClubPage(items=[ClubShape.of(services.storage.clubs.get(bearer.club))], next=None)
    page = services.storage.clubs.page(cursor, limit)
    items = [ClubShape.of(record) for record in page.items]
    return ClubPage(items=items, next=next_page("/clubs", page.cursor, limit))


@router.post(
    "/clubs/import", status_code=201, response_model=ClubShape,
    dependencies=[needs_service(Role.OWNER), JsonOnly],
    responses={**answers(201, Location="Where it is kept.", ETag=ETAG),
               **refusals(400, 401, 403, 409, 413, 415)},
    openapi_extra=body_of("application/json", EMPTY_CLUB, "ClubFile"),
)  # fmt: skip
def import_club(services: TheServices, body: JsonBody, response: Response) -> ClubShape:
    """Keep a club as an export holds it, with the ids it had: all of it or nothing.

    Nothing of it may be kept here already, and its scenarios must be fit to be planned here. Keys are made
    anew. A file larger than other bodies may be needs the setting `body_bytes`.
    """
    try:
        text = body.decode()
    except UnicodeDecodeError:
        raise UnreadableClub("the file", "UTF-8 text") from None
    record = services.storage.transfer.take_in(text, partial(check_club, services))
    response.headers["Location"] = f"/clubs/{record.id}"
    return _shown(record, response)


@router.get(
    "/clubs/{club}/export", response_model=ClubFile, dependencies=[needs(Role.OWNER)],
    responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 403, 404)},
)  # fmt: skip
def export_club(services: TheServices, club: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch a club with everything it has as one file, to be kept or imported elsewhere.

    Left out are its keys, whose secrets nobody keeps, and jobs that have not ended.
    """
    text = services.storage.transfer.club(club)
    tag = f'"{sha256(text.encode()).hexdigest()}"'
    saved_as = {"Content-Disposition": 'attachment; filename="club.json"'}
    return answer_if_new(if_none_match, tag, text, "application/json", saved_as)


@router.get(
    "/clubs/{club}", response_model=ClubShape, dependencies=[needs(Role.READER)],
    responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 404)},
)  # fmt: skip
def read_club(services: TheServices, club: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read what is known of a club."""
    record = services.storage.clubs.get(club)
    shown = ClubShape.of(record).model_dump_json()
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.put(
    "/clubs/{club}", response_model=ClubShape, dependencies=[needs(Role.OWNER), JsonOnly],
    responses={**answers(200, ETag=ETAG), **refusals(400, 401, 403, 404, 412, 413, 415, 428)},
)  # fmt: skip
def rename_club(
    services: TheServices, club: str, expected: ExpectedRevisions, wish: ClubWish, response: Response
) -> ClubShape:
    """Give a club another name. Needs If-Match."""
    return _shown(services.storage.clubs.rename(club, wish.name, expected), response)


@router.delete(
    "/clubs/{club}", status_code=204, dependencies=[needs(Role.OWNER)],
    responses=refusals(401, 403, 404, 409, 412, 428),
)  # fmt: skip
def delete_club(services: TheServices, club: str, expected: ExpectedRevisions) -> None:
    """Delete a club with everything it has, its keys too. Needs If-Match. Export it first."""
    services.storage.clubs.delete(club, expected)


def _shown(record: ClubRecord, response: Response) -> ClubShape:
    response.headers["ETag"] = record.tag
    return ClubShape.of(record)
