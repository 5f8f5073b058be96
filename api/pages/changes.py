"""What a plan made anew does otherwise than the one before, and why."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from fastapi import APIRouter, Request, Response

from scheduler.domain import Change, ChangeReason

from ..auth import needs
from ..deps import TheServices
from ..page import page
from ..storage import Role
from .silent import NOT_TOLD, is_counted_as_past
from .standing import night_of, twilit_of

router = APIRouter(include_in_schema=False)

DONE = ChangeReason.SEEN, ChangeReason.WANTED_LESS, ChangeReason.OFF_LIST
"""Why a visit is needed no longer, which is no loss."""


@router.get("/changes/{plan}", dependencies=[needs(Role.READER)])
def show_changes(request: Request, services: TheServices, plan: str) -> Response:
    """Show what is different from the plan before, night by night, each with its reason."""
    record = services.storage.plans.get(plan)
    read = services.shelf.plan(plan)
    lines = services.storage.outcomes.lines(record.scenario)[: record.outcomes]
    standing = {line.evening: line for line in lines}
    untold = {evening for evening, line in standing.items() if is_counted_as_past(line)}
    today = night_of(services.storage.now().astimezone(read.site.local))
    return page(
        request, "changes.html", twilit=twilit_of(read, today), record=record, plan=read,
        scenario=services.storage.scenarios.get(record.scenario),
        groups=groups_of(_retold(read.changes, untold)),
        announced=[one for one in read.announced if one >= today],
        disturbed={one.before for one in read.changes if one.before in read.announced},
        planned=frozenset(visit.evening for visit in read.visits),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Group:
    """Changes of one sort.

    Attributes
    ----------
    nights : By evening, the one a visit came from or, where it is new, came to; by date.
    """

    title: str
    nights: tuple[tuple[date, tuple[Change, ...]], ...]


def groups_of(changes: Iterable[Change]) -> tuple[Group, ...]:
    """Return changes by what became of the visit; sorts nothing belongs to are left out.

    Examples
    --------
    >>> moved = Change("M 42", date(2027, 1, 8), date(2027, 1, 15), ChangeReason.CLOUDED_OUT, "clouded out")
    >>> fresh = Change("M 1", None, date(2027, 1, 15), ChangeReason.NEWLY_PLACED, "had no place before")
    >>> [(group.title, len(group.nights)) for group in groups_of([fresh, moved])]
    [('Moved to another night', 1), ('Came new', 1)]
    """
    sorts: dict[str, list[Change]] = {
        "Moved to another night": [], "Came new": [], "Fell away": [], "Another time that night": [],
        "No longer needed": [],
    }  # fmt: skip
    for one in changes:
        sorts[_sort_of(one)].append(one)
    return tuple(Group(title, _by_night(found)) for title, found in sorts.items() if found)


def _retold(changes: Iterable[Change], untold: Container[date]) -> Iterator[Change]:
    """Yield changes; where the log only counts a night as past, none says that nobody could go."""
    for one in changes:
        lost = one.reason is ChangeReason.COULD_NOT_GO and one.before in untold
        yield replace(one, words=NOT_TOLD) if lost else one


def _sort_of(change: Change) -> str:
    if change.before is None:
        return "Came new"
    if change.after is None:
        return "No longer needed" if change.reason in DONE else "Fell away"
    return "Another time that night" if change.before == change.after else "Moved to another night"


def _by_night(changes: Iterable[Change]) -> tuple[tuple[date, tuple[Change, ...]], ...]:
    by_night = sorted(changes, key=_night)
    return tuple((evening, tuple(found)) for evening, found in groupby(by_night, key=_night))


def _night(change: Change) -> date:
    evening = change.before or change.after
    assert evening is not None
    return evening
