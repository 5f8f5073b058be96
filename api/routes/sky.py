"""The sky over a scenario's site, worked out while the caller waits."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Query, Response

from ..auth import needs
from ..conditional import IfNoneMatch, answer_if_new, is_known
from ..deps import TheServices
from ..log_csv import outcomes_csv
from ..seasons import today_at
from ..shapes import ETAG, IF_NEW, answers, refusals
from ..storage import Role

router = APIRouter(tags=["sky"])

_READER = needs(Role.READER)
_JSON = {**answers(200, "application/json", ETag=ETAG), **IF_NEW, **refusals(401, 404, 503)}
_CSV = {**answers(200, "text/csv", ETag=ETAG), **IF_NEW, **refusals(401, 404, 503)}
At = Annotated[
    str | None,
    Query(max_length=40, description="Local date and time, as in 2027-01-08T21:00; a date alone means ten in "
          "the evening, nothing means now.", examples=["2027-01-08T21:00"]),
]  # fmt: skip


@router.get("/scenarios/{scenario}/up", response_class=Response, dependencies=[_READER],
            responses={**answers(200, "application/json"), **refusals(401, 404, 503)})  # fmt: skip
def read_what_is_up(services: TheServices, scenario: str, at: At = None) -> Response:
    """Read what stands where at an hour: Sun, Moon, planets, bright stars, constellations, showpieces."""
    return _answered(services, scenario, "up", "application/json", None, at)


@router.get("/scenarios/{scenario}/planets", response_class=Response, dependencies=[_READER],
            responses=_JSON)  # fmt: skip
def read_planets(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read each planet's season: when it comes back, opposition or greatest elongation, its best weeks."""
    return _answered(services, scenario, "planets", "application/json", if_none_match)


@router.get("/scenarios/{scenario}/moon", response_class=Response, dependencies=[_READER], responses=_JSON)
def read_moon(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read the season's Moon diary: phase, rise, set and moonless darkness of each night."""
    return _answered(services, scenario, "moon", "application/json", if_none_match)


@router.get("/scenarios/{scenario}/moon.csv", response_class=Response, dependencies=[_READER],
            responses=_CSV)  # fmt: skip
def read_moon_csv(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the season's Moon diary, one line a night."""
    return _answered(services, scenario, "moon.csv", "text/csv", if_none_match)


@router.get("/scenarios/{scenario}/dates", response_class=Response, dependencies=[_READER], responses=_JSON)
def read_dates(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read the sky's own dates: new Moons, eclipses of the Moon, showers, oppositions, elongations.

    A feed that shows `sky` tells them to calendars.
    """
    return _answered(services, scenario, "dates", "application/json", if_none_match)


@router.get("/scenarios/{scenario}/weather", response_class=Response, dependencies=[_READER],
            responses=_JSON)  # fmt: skip
def read_weather(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read the clear odds by month and the persistence, as given and as learned from the log."""
    return _answered(services, scenario, "weather", "application/json", if_none_match)


def _answered(
    services: TheServices, scenario: str, question: str, media_type: str, if_none_match: str | None,
    at: str | None = None,
) -> Response:  # fmt: skip
    record = services.storage.scenarios.get(scenario)
    files, revision = services.storage.scenarios.files(scenario)
    lines = services.storage.outcomes.lines(scenario)
    today = today_at(files.scenario_toml, datetime.now(UTC))
    tag = f'"r{revision}-l{len(lines)}-{today}"'
    if question != "up" and is_known(if_none_match, tag):
        return answer_if_new(if_none_match, tag, "", media_type)
    given = {"name": record.name, "files": files, "log": outcomes_csv(lines), "today": today, "at": at}
    told = services.asking.ask(question, given)
    if question == "up":  # the sky turns: what was up is never what is up
        return Response(told, media_type=media_type)
    return answer_if_new(None, tag, told, media_type)
