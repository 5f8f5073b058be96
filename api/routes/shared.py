"""Members, sites and telescopes of a club, all with the same operations.

Annotations here are evaluated where they stand (no postponed ones): each noun has a path of its own.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Response

from scheduler.errors import Fault, ScenarioFaults

from ..auth import needs
from ..conditional import ExpectedRevisions, IfNoneMatch, answer_if_new
from ..deps import Cursor, JsonOnly, Limit, Services, TheServices
from ..shapes import ETAG, IF_NEW, SharedPage, SharedShape, SharedWish, answers, next_page, refusals
from ..shapes.clubs import COLLECTIONS
from ..storage import NewShared, Noun, Role, ScenarioFiles
from ..toml_parts import named_alone

ONE_TARGET = b"target,priority\r\nM 31,3\r\n"
TOLD_LATER = {Noun.MEMBER: ("instruments",)}
"""Keys that only a whole scenario can tell right from wrong."""
ABOUT: Mapping[Noun, str] = {
    Noun.MEMBER: "A member's settings are the keys of [[observers]].",
    Noun.SITE: "A site's settings are the keys of [[sites]], with `travel_min`; or, for one to start from, "
    "those of [site], with `zone`.",
    Noun.TELESCOPE: "A telescope's settings are the keys of [[telescopes]].",
}

SAMPLES: Mapping[Noun, dict[str, Any]] = {
    Noun.MEMBER: {"name": "Jory", "settings": {"age": 27, "weekdays": "Wed, Sat"}},
    Noun.SITE: {"name": "Far Carn", "settings": {
        "latitude_deg": 52.9, "longitude_deg": 0.9, "elevation_m": 60, "sky_brightness": 21.3,
        "travel_min": 50,
    }},
    Noun.TELESCOPE: {"name": "250 mm f/5", "settings": {"aperture_mm": 250, "focal_length_mm": 1250}},
}  # fmt: skip


def _wish(noun: Noun) -> Any:
    return Body(openapi_examples={noun.value: {"value": SAMPLES[noun]}})


def router_of(noun: Noun) -> APIRouter:
    """Return the operations on the members, the sites or the telescopes of clubs."""
    router = APIRouter(tags=[COLLECTIONS[noun]])
    _add_collection(router, noun)
    _add_one(router, noun)
    return router


def _add_collection(router: APIRouter, noun: Noun) -> None:
    path = f"/clubs/{{club}}/{COLLECTIONS[noun]}"

    @router.post(
        path, name=f"create_{noun}", status_code=201, response_model=SharedShape,
        description=f"Keep a new {noun} of a club. {ABOUT[noun]}",
        dependencies=[needs(Role.PLANNER), JsonOnly],
        responses={**answers(201, Location="Where it is kept.", ETag=ETAG),
                   **refusals(400, 401, 403, 404, 409, 413, 415)},
    )  # fmt: skip
    def create(
        services: TheServices, club: str, wish: Annotated[SharedWish, _wish(noun)], response: Response
    ) -> SharedShape:
        record = services.storage.shared[noun].add(club, _read(services, noun, wish))
        response.headers["Location"] = f"/{COLLECTIONS[noun]}/{record.id}"
        response.headers["ETag"] = record.tag
        return SharedShape.of(record, noun)

    @router.get(
        path, name=f"list_{COLLECTIONS[noun]}", response_model=SharedPage,
        description=f"List a club's {COLLECTIONS[noun]}, newest first.",
        dependencies=[needs(Role.READER)], responses=refusals(401, 404),
    )  # fmt: skip
    def page(services: TheServices, club: str, cursor: Cursor = None, limit: Limit = 50) -> SharedPage:
        found = services.storage.shared[noun].page(club, cursor, limit)
        items = [SharedShape.of(record, noun) for record in found.items]
        here = f"/clubs/{club}/{COLLECTIONS[noun]}"
        return SharedPage(items=items, next=next_page(here, found.cursor, limit))


def _add_one(router: APIRouter, noun: Noun) -> None:
    path = f"/{COLLECTIONS[noun]}/{{{noun}}}"
    One = Annotated[str, Path(alias=noun.value)]  # noqa: N806 - a type

    @router.get(
        path, name=f"read_{noun}", response_model=SharedShape, description=f"Read a {noun}.",
        dependencies=[needs(Role.READER)],
        responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 404)},
    )  # fmt: skip
    def read(services: TheServices, one: One, if_none_match: IfNoneMatch = None) -> Response:
        record = services.storage.shared[noun].get(one)
        shown = SharedShape.of(record, noun).model_dump_json()
        return answer_if_new(if_none_match, record.tag, shown, "application/json")

    @router.put(
        path, name=f"replace_{noun}", response_model=SharedShape,
        description=f"Change a {noun}; scenarios that use it take it over when they are planned next. "
        "Needs If-Match.",
        dependencies=[needs(Role.PLANNER), JsonOnly],
        responses={**answers(200, ETag=ETAG), **refusals(400, 401, 403, 404, 409, 412, 413, 415, 428)},
    )  # fmt: skip
    def change(
        services: TheServices, one: One, expected: ExpectedRevisions,
        wish: Annotated[SharedWish, _wish(noun)], response: Response,
    ) -> SharedShape:  # fmt: skip
        record = services.storage.shared[noun].replace(one, _read(services, noun, wish), expected)
        response.headers["ETag"] = record.tag
        return SharedShape.of(record, noun)

    @router.delete(
        path, name=f"delete_{noun}", status_code=204,
        description=f"Delete a {noun}; scenarios keep what they took over of it. Needs If-Match.",
        dependencies=[needs(Role.PLANNER)], responses=refusals(401, 403, 404, 412, 428),
    )  # fmt: skip
    def delete(services: TheServices, one: One, expected: ExpectedRevisions) -> None:
        services.storage.shared[noun].delete(one, expected)


def _read(services: Services, noun: Noun, wish: SharedWish) -> NewShared:
    """Return what is to be kept, read in a small scenario of its own; faults point into `settings`."""
    settings: dict[str, Any] = {key: value for key, value in wish.settings.items() if value is not None}
    new = NewShared(wish.name, settings)
    told = {key: value for key, value in settings.items() if key not in TOLD_LATER.get(noun, ())}
    home = noun is Noun.SITE and "zone" in settings
    toml = named_alone(noun, NewShared(wish.name, told), home=home)
    try:
        services.door.read_scenario("alone", ScenarioFiles(toml, ONE_TARGET))
    except ScenarioFaults as found:
        raise ScenarioFaults(tuple(_in_settings(fault) for fault in found.faults)) from None
    return new


def _in_settings(fault: Fault) -> Fault:
    """The table's place in the small scenario means nothing to who sent its keys."""
    key = (fault.column or "").rpartition(".")[2]
    return replace(fault, file="settings", column=key or None)
