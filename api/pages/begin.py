"""Plan from nothing: a form that becomes a scenario, and the plan of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from threading import Lock
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query, Request, Response
from starlette.datastructures import UploadFile

from scheduler.errors import InvalidValue, ScenarioFaults
from scheduler.scenario.text import decoded

from ..auth import ANY_KEY, needs
from ..beginning.checks import form_faults
from ..beginning.choices import ODDS, SKIES, TELESCOPES
from ..beginning.fields import DAYS, EVENING_RULES, EYEPIECES, LABELS, MONTHS, WISHES, typed_in
from ..beginning.lists import READY, SAMPLE
from ..beginning.pasted import joined
from ..beginning.places import Place, nearest_place, place_of, places_named
from ..beginning.reading import (
    Answers,
    Told,
    Understood,
    answers_of,
    catalogue_knows,
    told,
    understood,
    with_refusal,
)
from ..beginning.values import tidied
from ..beginning.zones import zone_doubted, zone_proposed
from ..deps import Services, TheServices
from ..kept import read_new
from ..page import led_to, page
from ..settings import known_zones
from ..shapes import PlanWish
from ..starting import plan_started
from ..storage import NewScenario, Role, ScenarioRecord

router = APIRouter(include_in_schema=False)

FIND, LOOK, CHECK, PLAN, TAKE_PLACE, TAKE_LIST = "find", "look", "check", "plan", "place:", "list:"
"""What the buttons of the form ask for; the last two with what is taken behind them."""
SURE = "sure"
"""The hidden field with the place and zone that were asked about: sent again they count."""
AS_IT_WAS = {"Cache-Control": "private, no-cache"}
"""Unlike "no-store" it lets a browser give back what was typed when one goes back."""
MOST_FIELDS, MOST_FIELD_BYTES = 200, 2_000_000
NO_TOWN = "no town of 15 000 people or more is called so; name a larger one nearby, or write its place below."
MOST_TOWNS, MOST_AS_TYPED = 12, 8
AGAIN_WITHIN_S = 600.0
"""A form sent twice within this time makes one scenario."""
_ONE_AT_A_TIME = Lock()
"""Of two sendings at once, as by a double click without script, the later finds what the first has kept."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A form as it was sent.

    Attributes
    ----------
    typed : What was typed, by field.
    deed : Which button was pressed.
    file : What a chosen file holds.
    sure : Of which place and zone, if any, the page has asked whether they are right.
    """

    typed: dict[str, str]
    deed: str
    file: bytes = b""
    sure: str = ""


async def _sent(request: Request) -> Sent:
    form = await request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=MOST_FIELD_BYTES)
    try:
        texts = [(name, value) for name, value in form.multi_items() if isinstance(value, str)]
        file = form.get("file")
        content = await file.read() if isinstance(file, UploadFile) else b""
        return Sent(tidied(typed_in(texts)), str(form.get("deed", LOOK)), content, str(form.get(SURE, "")))
    finally:
        await form.close()


TheForm = Annotated[Sent, Depends(_sent)]


@dataclass(frozen=True, slots=True)
class Shown:
    """What the page shows beside what was typed.

    Attributes
    ----------
    faults : What is wrong, by field.
    summary : The same from top to bottom, each with its field and label.
    lines : How every line of the wish-list was understood; None where that was not asked for.
    places : Towns to choose from.
    columns_unused : Columns of a pasted table that mean nothing here.
    asked : Whether that was asked for, so that all of it is to be seen.
    sure : The place and zone that count when they are sent again; blank where they count anyway.
    """

    faults: Told = field(default_factory=Told)
    lines: tuple[Understood, ...] | None = None
    places: tuple[Place, ...] = ()
    columns_unused: tuple[str, ...] = ()
    asked: bool = False
    sure: str = ""

    @property
    def open(self) -> bool:
        """Whether the lines are shown without being asked for once more."""
        return self.asked or bool(self.faults.rows or self.columns_unused)

    @property
    def summary(self) -> list[tuple[str, str, str]]:
        """Every fault of a field in the order of the page: the field's name, its label, what is wrong."""
        by_field = self.faults.fields
        return [(name, label, words) for name, label in LABELS.items() for words in by_field.get(name, ())]

    def by_month(self, typed: Mapping[str, str]) -> bool:
        """Tell whether anything was typed of single months, so that it is to be seen."""
        return any(typed[f"odds_{month.lower()}"] for month in MONTHS)


@router.get("/begin/places", dependencies=[ANY_KEY])
def find_places(q: Annotated[str, Query(max_length=100)] = "") -> dict[str, list[Place]]:
    """Name towns as one types."""
    return {"places": list(places_named(q, MOST_AS_TYPED))}


@router.get("/begin/zone", dependencies=[ANY_KEY])
def propose_zone(
    latitude_deg: Annotated[float, Query(ge=-90.0, le=90.0)],
    longitude_deg: Annotated[float, Query(ge=-180.0, le=180.0)],
) -> dict[str, object]:
    """Propose a time zone for a place: the nearest town's."""
    near, km = nearest_place(latitude_deg, longitude_deg)
    return {"zone": near.zone, "near": near.name, "km": round(km)}


@router.get("/begin/{club}", dependencies=[needs(Role.PLANNER)])
def show_form(request: Request, services: TheServices, club: str) -> Response:
    """Show the form, blank."""
    typed = typed_in(
        [("start", str(_today(services))), ("nights", "365"), ("odds", "half"), ("sky", "village")]
    )
    return _page(request, services, club, typed, Shown(), fresh=True)


@router.post("/begin/{club}", dependencies=[needs(Role.PLANNER)])
def take_form(request: Request, services: TheServices, club: str, sent: TheForm) -> Response:
    """Do what a button asks for; at last keep the scenario, start its plan and lead to the work."""
    typed, deed = dict(sent.typed), sent.deed
    added = _take_file(services, typed, sent.file) if sent.file else Told()
    if deed.startswith(TAKE_LIST):
        added, deed = _take_list(services, typed, deed.removeprefix(TAKE_LIST)), CHECK
    if deed.startswith(TAKE_PLACE):
        return _page(request, services, club, _with_place(typed, deed.removeprefix(TAKE_PLACE)), Shown())
    if deed == FIND and typed["search"].strip():
        shown = replace(_found(typed["search"]), sure=sent.sure)
        return _page(request, services, club, typed, shown)
    answers = answers_of(typed, _today(services, typed["zone"].strip()))
    new, faults = _read(services, answers)
    if deed == CHECK or added.fields:
        shown = _preview(services, answers, faults.about(WISHES).with_more(added.fields))
        shown = replace(shown, asked=sent.deed == CHECK, sure=sent.sure)
        return _page(request, services, club, typed, shown)
    faults = faults.with_more(form_faults(typed) | _proposed(typed))
    doubt, sure = zone_doubted(typed)
    if doubt and sure != sent.sure and "zone" not in faults.fields:
        faults = faults.with_more({"zone": (doubt,)})
    if deed == PLAN and new is not None and not faults.fields:
        return led_to(f"/progress/{_planned(services, club, new)}")
    places = _found(typed["search"]).places if "latitude" in faults.fields else ()
    shown = replace(_preview(services, answers, faults), places=places, sure=sure)
    return _page(request, services, club, typed, shown, status=422 if deed == PLAN else 200)


@router.post("/begin/{club}/sample", dependencies=[needs(Role.PLANNER)])
def plan_sample(services: TheServices, club: str) -> Response:
    """Keep a made-up scenario, start its plan and lead to the work."""
    answers = answers_of(SAMPLE, _today(services, SAMPLE["zone"]))
    return led_to(f"/progress/{_planned(services, club, read_new(services, answers.title, answers.files))}")


def _read(services: Services, answers: Answers) -> tuple[NewScenario | None, Told]:
    """Return what is to be kept, or None and everything wrong with it."""
    try:
        return read_new(services, answers.title, answers.files), Told()
    except ScenarioFaults as found:
        return None, told(found.faults, answers)
    except InvalidValue as refused:
        return None, with_refusal(Told(), refused)


def _planned(services: Services, club: str, new: NewScenario) -> str:
    """Keep a scenario, start its plan, and return the job's id; those of the form's first sending, if any."""
    storage = services.storage
    with _ONE_AT_A_TIME:
        before = next(iter(storage.scenarios.page(club, None, 1).items), None)
        if before is None or not _is_again(services, before, new):
            return _started(services, storage.scenarios.add(club, new).id)
        job = next(iter(storage.jobs.page(club, None, 1).items), None)
        return job.id if job and job.scenario == before.id else _started(services, before.id)


def _is_again(services: Services, before: ScenarioRecord, new: NewScenario) -> bool:
    """Tell whether a scenario was kept a moment ago from the same form, sent twice."""
    ago_s = (services.storage.now() - before.created).total_seconds()
    return (
        ago_s < AGAIN_WITHIN_S
        and before.name == new.name
        and services.storage.scenarios.files(before.id)[0] == new.files
    )


def _started(services: Services, scenario: str) -> str:
    return plan_started(services, scenario, PlanWish()).id


def _take_file(services: Services, typed: dict[str, str], file: bytes) -> Told:
    """Add a file's lines to the wish-list, or tell why that cannot be."""
    text = decoded(file)
    if text is None:
        return Told({WISHES: ("the file is no plain text; save it as CSV in UTF-8 and choose it again.",)})
    return _add(services, typed, typed_in([(WISHES, text)])[WISHES])


def _take_list(services: Services, typed: dict[str, str], name: str) -> Told:
    return _add(services, typed, READY[name].text) if name in READY else Told()


def _add(services: Services, typed: dict[str, str], more: str) -> Told:
    try:
        typed[WISHES] = joined(typed[WISHES], more, catalogue_knows, services.door.joined_wish_lists)
    except ScenarioFaults as found:
        return Told(
            {WISHES: tuple(f"not added: read “{one.read}”, expected {one.expected}." for one in found.faults)}
        )
    return Told()


def _with_place(typed: dict[str, str], number: str) -> dict[str, str]:
    """Return what was typed with a town's place in it."""
    place = place_of(int(number)) if number.isascii() and number.isdecimal() and len(number) < 9 else None
    if place is None:
        return typed
    return typed | {
        "search": "", "site_name": place.name, "latitude": f"{place.latitude_deg:.4f}",
        "longitude": f"{place.longitude_deg:.4f}", "zone": place.zone,
    }  # fmt: skip


def _found(search: str) -> Shown:
    """Return the towns of a name, or what to do where there is none."""
    places = places_named(search, MOST_TOWNS)
    if places or not search.strip():
        return Shown(places=places)
    return Shown(Told({"search": (NO_TOWN,)}))


def _proposed(typed: dict[str, str]) -> dict[str, tuple[str, ...]]:
    """Fill in the time zone of a place that has none, and tell so: it is looked at before it counts."""
    proposed = zone_proposed(typed)
    if proposed is None:
        return {}
    near, km = proposed
    typed["zone"] = near.zone
    return {"zone": (f"filled in from {near.name}, {km:.0f} km away; go on if it is right.",)}


def _preview(services: Services, answers: Answers, wrong: Told) -> Shown:
    lines = understood(answers, wrong, services.door.read_scenario)
    return Shown(wrong, lines, columns_unused=answers.pasted.columns_unused)


def _today(services: Services, zone: str = "") -> date:
    """Return the date by the clock of a zone; UTC's where none is known yet."""
    now = services.storage.now()
    return (now.astimezone(ZoneInfo(zone)) if zone in known_zones() else now).date()


def _page(
    request: Request, services: Services, club: str, typed: dict[str, str], shown: Shown, *,
    status: int = 200, fresh: bool = False,
) -> Response:  # fmt: skip
    return page(
        request, "begin.html", status=status, headers=AS_IT_WAS, club=services.storage.clubs.get(club),
        typed=typed, shown=shown, fresh=fresh, labels=LABELS, faults=shown.faults.fields, ready=READY,
        skies=SKIES, odds=ODDS, telescopes=TELESCOPES, eyepieces=range(1, EYEPIECES + 1),
        rules=range(1, EVENING_RULES + 1), days=DAYS, months=MONTHS,
        zones=sorted(zone for zone in known_zones() if "/" in zone),
    )  # fmt: skip
