"""Feeds: calendars others subscribe to, at addresses nobody can guess. Whoever has an address may read it."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request, Response

from ..auth import needs
from ..conditional import IfNoneMatch, answer_if_new, is_known
from ..deps import Cursor, JsonOnly, Lasting, Limit, TheServices, base_of
from ..errors import NoSuch
from ..feeding import address_of
from ..headers import takes_gzip, wants_page
from ..ics import care_of, clean, lines_of, night_told, title_of
from ..page import page
from ..shapes import ETAG, IF_NEW, FeedPage, FeedShape, FeedWish, answers, next_page, refusals
from ..storage import NewFeed, Role, Shows

router = APIRouter(tags=["feeds"])

_PLANNER = needs(Role.PLANNER)
_ICS = {**answers(200, "text/calendar", ETag=ETAG), **IF_NEW, **refusals(404)}
_NIGHT = {"content": {kind: {"schema": {"type": "string"}} for kind in ("text/plain", "text/html")}}
Secret = Annotated[
    str, Path(description="The feed's own part of its address.", examples=["no-feed-has-this-secret-yet"])
]
Alarm = Annotated[
    int | None,
    Query(ge=0, le=10_080, description="Be reminded so long before each night. [min]", examples=[90]),
]


@router.post("/clubs/{club}/feeds", status_code=201, response_model=FeedShape,
             dependencies=[_PLANNER, JsonOnly],
             responses={**answers(201, Location="Where it is kept."),
                        **refusals(400, 401, 403, 404, 413, 415)})  # fmt: skip
def create_feed(
    services: TheServices, club: str, wish: FeedWish, request: Request, response: Response
) -> FeedShape:
    """Make a feed: of a whole club, of one observer, of one scenario, or of its sky dates alone.

    Its address is a secret: whoever has it may read the feed, without a key.
    """
    record = services.storage.feeds.add(club, NewFeed(wish.shows, wish.scenario, wish.observer))
    response.headers["Location"] = f"/feeds/{record.id}"
    return FeedShape.of(record, address_of(base_of(services, request), record))


@router.get("/clubs/{club}/feeds", response_model=FeedPage, dependencies=[_PLANNER],
            responses=refusals(401, 403, 404))  # fmt: skip
def list_feeds(
    services: TheServices, club: str, request: Request, cursor: Cursor = None, limit: Limit = 50
) -> FeedPage:
    """List a club's feeds with their addresses, newest first."""
    found, base = services.storage.feeds.page(club, cursor, limit), base_of(services, request)
    items = [FeedShape.of(record, address_of(base, record)) for record in found.items]
    return FeedPage(items=items, next=next_page(f"/clubs/{club}/feeds", found.cursor, limit))


@router.get("/calendars/{secret}.ics", response_class=Response, dependencies=[Lasting], responses=_ICS)
def read_feed(
    services: TheServices, secret: Secret, request: Request, alarm: Alarm = None,
    if_none_match: IfNoneMatch = None,
) -> Response:  # fmt: skip
    """Subscribe to it: a night an event, changed quietly after each re-plan (RFC 5545).

    Nights withdrawn stay as cancelled for 30 days, past nights stay with their outcome. A feed of sky dates
    has events that make nobody busy. An answer 304 may be two seconds late.
    """
    feed, base = services.storage.feeds.by_secret(secret), base_of(services, request)
    compressed = takes_gzip(request.headers.get("accept-encoding", ""))
    tag = services.feeder.tag_of(feed, base, alarm, compressed=compressed)
    body = b""
    if not is_known(if_none_match, tag):
        tag, body = services.feeder.body_of(feed, base, alarm, compressed=compressed)
    name = "sky-dates" if feed.shows is Shows.SKY else "nights"
    headers = {"Vary": "Accept-Encoding", "Content-Disposition": f'inline; filename="{name}.ics"'}
    headers |= {"Content-Encoding": "gzip"} if compressed else {}
    return answer_if_new(if_none_match, tag, body, "text/calendar; charset=utf-8", headers)


@router.get("/nights/{secret}/{evening}", response_class=Response,
            responses={200: _NIGHT, **refusals(404)})  # fmt: skip
def read_night(services: TheServices, secret: Secret, evening: date, request: Request) -> Response:
    """Read a night of a feed, as its events link to it; a browser is shown the same as a page."""
    feed = services.storage.feeds.by_secret(secret)
    shown = [one for one in services.storage.entries.shown_by(feed) if one.evening == evening]
    if not shown:
        raise NoSuch("night", evening.isoformat())
    headers = {"Cache-Control": "private, no-cache", "Vary": "Accept"}
    if wants_page(request.scope["headers"]):
        told = [night_told(one) for one in shown]
        return page(request, "told.html", headers=headers, evening=evening, nights=told)
    parts = [clean("\n".join([title_of(one), "", *lines_of(one), *care_of(one)])) for one in shown]
    return Response("\n\n".join(parts) + "\n", media_type="text/plain; charset=utf-8", headers=headers)


@router.get("/feeds/{feed}", response_model=FeedShape, dependencies=[_PLANNER],
            responses=refusals(401, 403, 404))  # fmt: skip
def describe_feed(services: TheServices, feed: str, request: Request) -> FeedShape:
    """Read what a feed shows, and its address."""
    record = services.storage.feeds.get(feed)
    return FeedShape.of(record, address_of(base_of(services, request), record))


@router.post("/feeds/{feed}/rotate", response_model=FeedShape, dependencies=[_PLANNER, JsonOnly],
             responses=refusals(401, 403, 404, 413, 415))  # fmt: skip
def rotate_feed(services: TheServices, feed: str, request: Request) -> FeedShape:
    """Give a feed a fresh address; the old one opens nothing from then on."""
    record = services.storage.feeds.rotate(feed)
    return FeedShape.of(record, address_of(base_of(services, request), record))


@router.delete("/feeds/{feed}", status_code=204, dependencies=[_PLANNER], responses=refusals(401, 403, 404))
def revoke_feed(services: TheServices, feed: str) -> None:
    """Revoke a feed: its address opens nothing any more."""
    services.storage.feeds.delete(feed)
