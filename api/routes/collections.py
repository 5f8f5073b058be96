"""Collections: calendars on others' servers that feeds are pushed into (CalDAV)."""

from __future__ import annotations

from fastapi import APIRouter, Response

from scheduler.errors import InvalidValue

from ..auth import needs
from ..caldav import checked_address
from ..conditional import ExpectedRevisions, IfNoneMatch, answer_if_new
from ..deps import Cursor, IdempotencyKey, JsonOnly, Limit, TheServices
from ..errors import NoSuch
from ..seal import Seal
from ..shapes import (
    ETAG,
    IF_NEW,
    CollectionChange,
    CollectionPage,
    CollectionShape,
    CollectionWish,
    JobShape,
    PushShape,
    PushWish,
    answers,
    next_page,
    refusals,
)
from ..starting import STARTED, started
from ..storage import NewCollection, NewJob, Role, Shows, Work, push_wish

router = APIRouter(tags=["collections"])

_PLANNER = needs(Role.PLANNER)


@router.post("/feeds/{feed}/collections", status_code=201, response_model=CollectionShape,
             dependencies=[_PLANNER, JsonOnly],
             responses={**answers(201, Location="Where it is kept.", ETag=ETAG),
                        **refusals(400, 401, 403, 404, 413, 415)})  # fmt: skip
def create_collection(
    services: TheServices, feed: str, wish: CollectionWish, response: Response
) -> CollectionShape:
    """Let a feed be pushed into a calendar on another server, now by `push` and after each publication.

    Only events put there by us are ever changed. The password is kept sealed; it and the events go to that
    server, nothing else does. Where the service has no key to seal with, this is refused.
    """
    checked_address(wish.address)
    if services.storage.feeds.get(feed).shows is Shows.SKY:
        raise InvalidValue("feed", Shows.SKY.value, "a feed of nights; subscribe to the sky's dates instead")
    sealed = Seal().sealed(wish.password)
    new = NewCollection(wish.address, wish.username, sealed, wish.conflicts.value)
    record = services.storage.collections.add(feed, new)
    response.headers["Location"] = f"/collections/{record.id}"
    response.headers["ETag"] = record.tag
    return CollectionShape.of(record)


@router.get("/feeds/{feed}/collections", response_model=CollectionPage, dependencies=[_PLANNER],
            responses=refusals(401, 403, 404))  # fmt: skip
def list_collections(
    services: TheServices, feed: str, cursor: Cursor = None, limit: Limit = 50
) -> CollectionPage:
    """List the collections a feed is pushed into, newest first."""
    page = services.storage.collections.page(feed, cursor, limit)
    items = [CollectionShape.of(record) for record in page.items]
    return CollectionPage(items=items, next=next_page(f"/feeds/{feed}/collections", page.cursor, limit))


@router.get("/collections/{collection}", response_model=CollectionShape, dependencies=[_PLANNER],
            responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 403, 404)})  # fmt: skip
def read_collection(services: TheServices, collection: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read a collection, without its password."""
    record = services.storage.collections.get(collection)
    shown = CollectionShape.of(record).model_dump_json()
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.put("/collections/{collection}", response_model=CollectionShape, dependencies=[_PLANNER, JsonOnly],
            responses={**answers(200, ETag=ETAG),
                       **refusals(400, 401, 403, 404, 412, 413, 415, 428)})  # fmt: skip
def replace_collection(
    services: TheServices, collection: str, expected: ExpectedRevisions, wish: CollectionChange,
    response: Response,
) -> CollectionShape:  # fmt: skip
    """Change a collection. Needs If-Match.

    With another address, what was put at the old one stays there and is forgotten: withdraw it first.
    """
    checked_address(wish.address)
    sealed = None if wish.password is None else Seal().sealed(wish.password)
    new = NewCollection(wish.address, wish.username, sealed, wish.conflicts.value)
    record = services.storage.collections.replace(collection, new, expected)
    response.headers["ETag"] = record.tag
    return CollectionShape.of(record)


@router.delete("/collections/{collection}", status_code=204, dependencies=[_PLANNER],
               responses=refusals(401, 403, 404, 412, 428))  # fmt: skip
def delete_collection(services: TheServices, collection: str, expected: ExpectedRevisions) -> None:
    """Push there no longer. Needs If-Match. What was put there stays: withdraw it first if it should not."""
    services.storage.collections.delete(collection, expected)


@router.post("/collections/{collection}/push", status_code=202, response_model=JobShape,
             dependencies=[_PLANNER, JsonOnly], responses=STARTED)  # fmt: skip
def push_collection(
    services: TheServices, collection: str, response: Response, wish: PushWish | None = None,
    idempotency_key: IdempotencyKey = None,
) -> JobShape:  # fmt: skip
    """Push the feed there now, or withdraw what was put there; the job's answer tells what came of it.

    What is there already is not written again. A feed that shows no calendar yet cannot be pushed.
    """
    asked = wish or PushWish()
    scenario = services.storage.collections.scenario_of(collection)
    told = push_wish(collection, withdraw=asked.withdraw)
    return started(services, NewJob(scenario, Work.PUSH, told, idempotency_key), response)


@router.get("/collections/{collection}/last-push", response_model=PushShape, dependencies=[_PLANNER],
            responses=refusals(401, 403, 404))  # fmt: skip
def read_last_push(services: TheServices, collection: str) -> PushShape:
    """Read what the last push came to: what was written, and which events were changed by hand."""
    told = services.storage.collections.get(collection).told
    if told is None:
        raise NoSuch("push of the collection", collection)
    return PushShape.of(told)
