"""What leaves the scheduler: the yearly CSV, its two companions, and the plan as JSON.

Local time appears here and nowhere before. CSV is RFC 4180 (CRLF, header, quotes where needed, UTF-8);
text that a spreadsheet would take for a formula is given a leading apostrophe, numbers never are.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from .cells import csv_of, local_cell, span_cells, text_cell, trip_cells, utc_cell
from .diary import moon_csv
from .domain import Extended, Plan, Pointing, Sight, Span, Standby, Target, View, Visit
from .errors import CannotWrite, UnreadablePlan

if TYPE_CHECKING:
    from pydantic import TypeAdapter

FORMAT = "duskwright-plan"
FORMAT_VERSION = 3

SCHEDULE_COLUMNS = (
    "evening", "weekday", "site", "start_local", "end_local", "start_utc", "end_utc", "role", "order",
    "target", "kind", "constellation", "ra_deg", "dec_deg", "altitude_deg", "direction",
    "moon_lit_fraction", "moon_altitude_deg", "moon_separation_deg", "darkness", "merit", "clear_odds", "why",
    "figures_at_local", "also_known_as", "magnitude", "size_arcmin", "what", "instrument", "eyepiece",
    "barlow", "filter", "magnification", "true_field_deg", "exit_pupil_mm", "why_this_view", "where_to_point",
    "start_from_star", "star_distance_deg", "binoculars_first", "observers",
)  # fmt: skip
"""New columns come last, so that whoever counts columns counts right.

Magnitudes are in mag; `direction` is one of sixteen points. From `what` on, what is looked at and how:
`what` it is, `instrument`, `eyepiece`, whether the `barlow` is in, `filter`, `magnification` (times),
`true_field_deg`, `exit_pupil_mm` and `why_this_view`; `where_to_point` in words, with the bright star to
`start_from_star` (blank where none is needed or near) and `star_distance_deg` from it to the target; whether
binoculars show it first, and so help to find it; and the `observers` who look through this instrument.
"""
NIGHT_COLUMNS = (
    "evening", "weekday", "darkness", "dark_start_local", "dark_end_local", "dark_min", "moonless_min",
    "moon_lit_fraction", "moon_waxing", "free_start_local", "free_end_local", "clear_odds", "visits",
    "planned_min", "guests", "site", "travel_min", "leave_home_local", "home_again_local",
    "observers", "club",
)  # fmt: skip
"""`guests` counts people, 0 on a night without. Dark window, Moon and free time are those at `site`;
`travel_min` is one way, 0 at home, where leaving and being back at the latest are blank."""
ODDS_COLUMNS = (
    "target", "kind", "priority", "visits_wanted", "planned_evenings", "completion_odds", "standard_error",
    "at_risk", "last_good_evenings",
)  # fmt: skip
"""Evenings as in 2027-01-08, several with a space between."""
CHANGE_COLUMNS = ("target", "kind", "from_evening", "to_evening", "reason", "words")
"""A blank `from_evening` is a visit newly placed, a blank `to_evening` one without a place."""
UNPLACED_COLUMNS = ("target", "kind", "priority", "visits_wanted", "visits_missing", "reason", "words")


def schedule_csv(plan: Plan) -> str:
    """Return the yearly schedule: a row a visit, then a row a standby, night by night.

    Altitude, direction, Moon, darkness and merit hold for `figures_at_local`: the middle of a visit, the
    best moment of a standby.
    """
    targets = {target.name: target for target in plan.targets}
    odds = {night.evening: night.clear_odds for night in plan.nights}
    sites = {night.evening: night.trip.site.name for night in plan.nights if night.trip}
    entries: list[tuple[date, int, int, Visit | Standby, Span, datetime]] = [
        (visit.evening, 0, visit.order, visit, visit.time, visit.time.middle) for visit in plan.visits
    ]
    entries += [(wait.evening, 1, wait.order, wait, wait.window, wait.best) for wait in plan.standbys]
    rows = (
        (
            evening.isoformat(), evening.strftime("%a"), text_cell(sites.get(evening, plan.site.name)),
            *span_cells(plan, span), utc_cell(span.start), utc_cell(span.end),
            ("visit", "standby")[role], order, text_cell(entry.target), targets[entry.target].kind.value,
            *_sight_cells(entry.sight), f"{odds[evening]:.2f}", text_cell(entry.why), local_cell(plan, at),
            *_target_cells(targets[entry.target]), *_view_cells(entry.view), *_pointing_cells(entry.pointing),
            text_cell(" and ".join(entry.view.observers)),
        )
        for evening, role, order, entry, span, at in sorted(entries, key=lambda entry: entry[:3])
    )  # fmt: skip
    return csv_of(SCHEDULE_COLUMNS, rows)


def nights_csv(plan: Plan) -> str:
    """Return the free nights: a row a night, with its dark window, Moon and planned minutes."""
    rows = []
    for free in plan.nights:
        night = free.night
        visits = [visit for visit in plan.visits if visit.evening == night.evening]
        rows.append((
            night.evening.isoformat(), night.evening.strftime("%a"), night.darkness.value,
            *span_cells(plan, night.dark), f"{night.dark.minutes if night.dark else 0:.0f}",
            f"{night.moonless_min:.0f}", f"{night.moon_lit_fraction:.2f}",
            "yes" if night.moon_waxing else "no",
            *span_cells(plan, free.free), f"{free.clear_odds:.2f}", len(visits),
            f"{sum(visit.time.minutes for visit in visits):.0f}", free.guests,
            *trip_cells(plan, free), text_cell(" and ".join(plan.coming_on(free))),
            "yes" if free.club else "no",
        ))  # fmt: skip
    return csv_of(NIGHT_COLUMNS, rows)


def unplaced_csv(plan: Plan) -> str:
    """Return the targets with fewer visits than wanted: a row a target, with the binding reason."""
    targets = {target.name: target for target in plan.targets}
    rows = (
        (
            text_cell(entry.target), targets[entry.target].kind.value, targets[entry.target].priority,
            targets[entry.target].visits, entry.missing, entry.reason.value, text_cell(entry.words),
        )
        for entry in plan.unplaced
    )  # fmt: skip
    return csv_of(UNPLACED_COLUMNS, rows)


def odds_csv(plan: Plan) -> str:
    """Return the completion odds: a row a target; only the header where no years were lived through."""
    planned: dict[str, list[str]] = {}
    for visit in sorted(plan.visits, key=lambda visit: visit.evening):
        planned.setdefault(visit.target, []).append(visit.evening.isoformat())
    targets = {target.name: target for target in plan.targets}
    rows = (
        (
            text_cell(one.target), targets[one.target].kind.value, targets[one.target].priority,
            targets[one.target].visits, " ".join(planned.get(one.target, [])), f"{one.completion_odds:.3f}",
            f"{one.standard_error:.3f}", "yes" if one.at_risk else "no",
            " ".join(evening.isoformat() for evening in one.last_nights),
        )
        for one in (plan.odds.targets if plan.odds else ())
    )  # fmt: skip
    return csv_of(ODDS_COLUMNS, rows)


def changes_csv(plan: Plan) -> str:
    """Return what is different from the plan before: a row a visit; a first plan has only the header."""
    kinds = {target.name: target.kind.value for target in plan.targets}
    rows = (
        (
            text_cell(change.target), kinds.get(change.target, ""), change.before or "", change.after or "",
            change.reason.value, text_cell(change.words),
        )
        for change in plan.changes
    )  # fmt: skip
    return csv_of(CHANGE_COLUMNS, rows)


def moon_diary_csv(plan: Plan) -> str:
    """Return the Moon's diary: a row for each night of the season, free or not."""
    return moon_csv(plan.diary, plan.site)


def plan_to_json(plan: Plan) -> str:
    """Return the whole plan as JSON; `plan_from_json` reads it back equal."""
    body = _adapter().dump_python(plan, mode="json")
    away = (observer["away"] for observer in body["observers"])
    shared = (body[key]["evenings"] for key in ("guests", "club"))
    own = (body["availability"][key] for key in ("extra", "away", "announced"))
    for dates in (*own, *away, *shared):
        dates.sort()  # sets have no order of their own, and the bytes must
    whole = {"format": FORMAT, "format_version": FORMAT_VERSION, "gap": plan.gap, "plan": body}
    return json.dumps(whole, ensure_ascii=False, indent=1) + "\n"


def plan_from_json(text: str) -> Plan:
    """Return the plan that `plan_to_json` wrote.

    Raises
    ------
    UnreadablePlan
        Where the text is damaged, is no plan, or has another format version.
    """
    from pydantic import ValidationError  # late: the command line must start quickly

    try:
        whole = json.loads(text)
    except (ValueError, RecursionError) as fault:
        raise UnreadablePlan(f"not a readable plan: {fault}") from fault
    if not isinstance(whole, dict) or whole.get("format") != FORMAT:
        found = whole.get("format") if isinstance(whole, dict) else None
        raise UnreadablePlan(f"not a readable plan: read format {found!r}, expected {FORMAT!r}")
    if whole.get("format_version") != FORMAT_VERSION:
        raise UnreadablePlan(
            f"the plan has format version {whole.get('format_version')!r}, and only {FORMAT_VERSION} can be "
            "read here; plan the scenario anew"
        )
    try:
        return _adapter().validate_python(whole.get("plan"))
    except ValidationError as faults:
        first, *more = faults.errors(include_url=False)
        place = ".".join(map(str, first["loc"])) or "plan"
        others = f" (and {len(more)} more)" if more else ""
        words = first["msg"].removeprefix("Value error, ")
        raise UnreadablePlan(f"not a readable plan: {place}: {words}{others}") from faults


OUTPUTS: dict[str, Callable[[Plan], str]] = {
    "schedule.csv": schedule_csv,
    "nights.csv": nights_csv,
    "unplaced.csv": unplaced_csv,
    "changes.csv": changes_csv,
    "moon.csv": moon_diary_csv,
    "odds.csv": odds_csv,
    "plan.json": plan_to_json,
}
"""The files of a plan, by name."""


def write_plan(plan: Plan, folder: Path, beside: Mapping[str, bytes] | None = None) -> tuple[Path, ...]:
    """Write every output of `plan` into `folder`, each file whole or not at all, and return the paths.

    Everything is composed and written to temporary files first; only then is each renamed into place.

    Parameters
    ----------
    beside : More files to write with them, by name.

    Raises
    ------
    CannotWrite
        Where the folder cannot hold the files.
    """
    contents = {name: to_text(plan).encode() for name, to_text in OUTPUTS.items()} | dict(beside or {})
    check_writable(folder, tuple(contents))
    with tempfile.TemporaryDirectory(dir=folder, prefix=".writing-") as aside:
        for name, content in contents.items():
            with (Path(aside) / name).open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        return tuple((Path(aside) / name).replace(folder / name) for name in contents)


def check_writable(folder: Path, names: Iterable[str] = ()) -> None:
    """Make `folder` where needed and raise `CannotWrite` unless the files of a plan can go into it.

    `names` : Of other files that are to go there too.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as fault:
        raise CannotWrite(folder, fault.strerror or str(fault)) from fault
    for name in (*OUTPUTS, *names):
        if (folder / name).is_dir():
            raise CannotWrite(folder / name, "a folder stands in the way")


def _adapter() -> TypeAdapter[Plan]:
    from pydantic import TypeAdapter  # late: the command line must start quickly

    return TypeAdapter(Plan)


def _sight_cells(sight: Sight) -> tuple[str, ...]:
    return (
        text_cell(sight.constellation), f"{sight.ra_deg:.4f}", f"{sight.dec_deg:z.4f}",
        f"{sight.altitude_deg:z.1f}", sight.direction, f"{sight.moon_lit_fraction:.2f}",
        f"{sight.moon_altitude_deg:z.1f}", f"{sight.moon_separation_deg:.1f}", sight.darkness.value,
        f"{sight.merit:.2f}",
    )  # fmt: skip


def _target_cells(target: Target) -> tuple[str, ...]:
    return (
        text_cell(target.also_known_as or ""),
        "" if target.magnitude is None else f"{target.magnitude:z.1f}",
        "" if target.size_arcmin is None else f"{target.size_arcmin:.1f}",
        text_cell(target.nature.what if isinstance(target.nature, Extended) else target.kind.value),
    )


def _view_cells(view: View) -> tuple[str, ...]:
    return (
        text_cell(view.instrument), text_cell(view.eyepiece or ""), "yes" if view.barlow else "no",
        text_cell(view.filter or ""), f"{view.magnification:.0f}", f"{view.true_field_deg:.2f}",
        f"{view.exit_pupil_mm:.1f}", text_cell(view.why),
    )  # fmt: skip


def _pointing_cells(pointing: Pointing) -> tuple[str, ...]:
    return (
        text_cell(pointing.words), text_cell(pointing.star or ""),
        "" if pointing.distance_deg is None else f"{pointing.distance_deg:.1f}",
        "yes" if pointing.binoculars_first else "no",
    )  # fmt: skip
