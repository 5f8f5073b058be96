"""The front page, signing in and out, the light of pages, and their fixed files."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.concurrency import run_in_threadpool

from ..auth import Bearer, MaybeBearer, bearer_of
from ..deps import Services, TheServices
from ..errors import KeyNeeded, NoSuch
from ..headers import KEY_COOKIE
from ..page import BRIGHTEST, LIGHT_COOKIE, LIGHTS, MEDIA, led_to, light_of, own_address, page, statics
from ..storage import ClubRecord, Role

router = APIRouter(include_in_schema=False)

YEAR_S = 400 * 86_400
MOST_CLUBS, MOST_SCENARIOS = 50, 50


@router.get("/")
def show_front(request: Request, services: TheServices, bearer: MaybeBearer) -> Response:
    """Show the clubs and scenarios a key opens; without one, what this is and where to sign in."""
    if bearer is None:
        refused: KeyNeeded | None = getattr(request.state, "key_refused", None)
        return page(request, "enter.html", to="/", reason=refused and refused.words)
    clubs = _clubs(services, bearer)
    scenarios = services.storage.scenarios.newest_of([club.id for club in clubs], MOST_SCENARIOS)
    shown = [(club, scenarios.get(club.id, ())) for club in clubs]
    return page(request, "front.html", clubs=shown, may_plan=bearer.role.covers(Role.PLANNER),
                may_let_in=bearer.role.covers(Role.OWNER))  # fmt: skip


@router.get("/care")
def show_cautions(request: Request) -> Response:
    """Show the cautions."""
    return page(request, "care.html")


@router.post("/enter")
async def sign_in(
    request: Request, services: TheServices, key: Annotated[str, Form(max_length=200)],
    to: Annotated[str, Form(max_length=2000)] = "/", stay: Annotated[str, Form(max_length=9)] = "",
) -> Response:  # fmt: skip
    """Take a key in and keep it in a cookie no script can read."""
    try:
        await run_in_threadpool(bearer_of, services.storage, key.strip())
    except KeyNeeded as refused:
        return page(request, "enter.html", status=401, to=own_address(to), reason=refused.words)
    answer = led_to(own_address(to))
    answer.set_cookie(
        KEY_COOKIE, key.strip(), YEAR_S if stay else None, httponly=True, samesite="strict",
        secure=_is_secure(request, services),
    )  # fmt: skip
    return answer


@router.post("/leave")
async def sign_out() -> Response:
    """Let a browser forget its key; the key itself goes on counting until it is revoked."""
    answer = led_to("/")
    answer.delete_cookie(KEY_COOKIE, httponly=True, samesite="strict")
    return answer


@router.post("/light")
async def set_light(
    request: Request, services: TheServices, to: Annotated[str, Form(max_length=2000)] = "/",
    light: Annotated[str, Form(max_length=9)] = "", bright: Annotated[str, Form(max_length=1)] = "",
) -> Response:  # fmt: skip
    """Keep how pages are to be lit."""
    now = light_of(request)
    chosen = light if light in LIGHTS else now.chosen
    step = min(BRIGHTEST, max(1, now.bright + {"+": 1, "-": -1}.get(bright, 0)))
    answer = led_to(own_address(to))
    answer.set_cookie(LIGHT_COOKIE, f"{chosen}-{step}", YEAR_S, samesite="strict",
                      secure=_is_secure(request, services))  # fmt: skip
    return answer


@router.get("/static/{file}")
async def read_static(file: str) -> Response:
    """Fetch a fixed file of the pages; its address changes with its content."""
    if file not in statics():
        raise NoSuch("file", file)
    content, digest = statics()[file]
    media = MEDIA["." + file.rpartition(".")[2]]
    return Response(content, 200, {
        "ETag": f'"{digest}"', "Cache-Control": "public, max-age=31536000, immutable",
    }, media)  # fmt: skip


def _clubs(services: Services, bearer: Bearer) -> tuple[ClubRecord, ...]:
    if bearer.club is not None:
        return (services.storage.clubs.get(bearer.club),)
    return tuple(services.storage.clubs.page(None, MOST_CLUBS).items)


def _is_secure(request: Request, services: Services) -> bool:
    """Tell whether browsers reach this over TLS, through the proxy that speaks it."""
    return request.url.scheme == "https" or (services.settings.origin or "").startswith("https:")
