"""A plan of as many targets as one likes, made from the small one by hand: for pages that must hold many."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from scheduler.domain import Odds, Plan, Season, Showing, Standby, TargetOdds, Visit
from tests.small_plan import night, plan, visit


def long_plan(targets: int, nights: int = 150, visits: int = 400) -> Plan:
    """Return a plan of a whole year; it is drawn and read, not judged."""
    small, start = plan(), date(2027, 1, 1)
    names = [f"Object {number + 1}" for number in range(targets)]
    evenings = [start + timedelta(days=int(number * 364 / nights)) for number in range(nights)]
    made: list[Visit] = []
    for number, name in enumerate(names[:visits]):
        evening = evenings[number * nights // visits]
        order = sum(one.evening == evening for one in made) + 1
        made.append(visit(name, evening, order, 18, 25 * order, 20))
    waiting: list[Standby] = [
        replace(small.standbys[0], target=name, evening=evenings[number % nights], order=1)
        for number, name in enumerate(names[visits:])
    ]
    weeks = 53
    showing = tuple(
        Showing(name, "".join(str(max(0, (number + week // 3) % 5 - 1)) for week in range(weeks)),
                "".join(str(max(0, (number + week // 3) % 5 - 2)) for week in range(weeks)))
        for number, name in enumerate(names)
    )  # fmt: skip
    odds = Odds(
        "long", 100, 0,
        tuple(
            TargetOdds(name, (number % 100) / 100, 0.04, (evenings[-1],)) for number, name in enumerate(names)
        ),
        targets / 2, 1.0, targets / 3, targets / 2, targets / 1.5, 30.0, (),
    )  # fmt: skip
    one = small.targets[0]
    return replace(
        small, season=Season(start, 365), targets=tuple(replace(one, name=name) for name in names),
        nights=tuple(night(evening) for evening in evenings), visits=tuple(made), standbys=tuple(waiting),
        unplaced=(), odds=odds, showing=showing,
        diary=tuple(night(start + timedelta(days=day)).night for day in range(365)),
    )  # fmt: skip
