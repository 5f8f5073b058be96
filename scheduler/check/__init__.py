"""The judge: restates every rule of a plan without solver or sky, and finds the breaches in words.

`breaches_of` needs nothing but the plan itself. `breaches_of_windows` also holds visits and standbys against
the opportunities they were chosen from, and `breaches_of_changes` a plan against the one before. None shares
code with the model that made the plan. Rules are written so that a figure that is no number, a name that is
unknown or a date at the end of the calendar is a breach like any other.
"""

from __future__ import annotations

from ..domain import Opportunities, Plan
from ..errors import PlanRejected
from .accounts import ACCOUNT_RULES
from .changes import change_breaches, past_is_past, reason_breaches_of_windows
from .kinds import KIND_RULES
from .looks import Rule
from .nights import NIGHT_RULES
from .odds import ODDS_RULES
from .people import PEOPLE_RULES
from .showing import SHOWING_RULES, showing_breaches
from .sights import SIGHT_RULES
from .standbys import STANDBY_RULES, standbys_can_be_looked_at_while_out
from .trips import TRIP_RULES
from .views import VIEW_RULES
from .visits import VISIT_RULES
from .windows import window_breaches

RULES: tuple[Rule, ...] = (
    *ACCOUNT_RULES, *NIGHT_RULES, *SIGHT_RULES, *VISIT_RULES, *STANDBY_RULES, *VIEW_RULES, *KIND_RULES,
    *ODDS_RULES, past_is_past, *TRIP_RULES, *PEOPLE_RULES, *SHOWING_RULES,
)  # fmt: skip
LATER_RULES: tuple[Rule, ...] = (standbys_can_be_looked_at_while_out,)
"""What plans were not yet held to when this format was young; those kept since then are read all the same."""


def judge(
    plan: Plan,
    opportunities: Opportunities | None = None,
    previous: Plan | None = None,
    every: Opportunities | None = None,
    *,
    kept: bool = False,
) -> None:
    """Raise `PlanRejected` with every breach, or return in silence.

    Parameters
    ----------
    opportunities : Where what is still wanted shows on the plan's nights.
    previous : The plan from which this one was made anew.
    every : Where each target shows on them, wanted still or not.
    kept : Whether the plan was made earlier, maybe by a version that did not know `LATER_RULES`.
    """
    breaches = breaches_of(plan, kept=kept)
    if previous is not None:
        breaches += breaches_of_changes(plan, previous)
    if opportunities is not None:
        breaches += breaches_of_windows(plan, opportunities)
    if every is not None:
        breaches += breaches_of_showing(plan, every)
    if breaches:
        raise PlanRejected(breaches)


def breaches_of(plan: Plan, *, kept: bool = False) -> tuple[str, ...]:
    """Return every rule the plan breaks, each in words; empty for a sound plan. Of `kept`, see `judge`."""
    rules = [rule for rule in RULES if not (kept and rule in LATER_RULES)]
    return tuple(breach for rule in rules for breach in rule(plan))


def breaches_of_windows(plan: Plan, opportunities: Opportunities) -> tuple[str, ...]:
    """Return in words every visit and standby that its target's opportunities of that night do not offer."""
    return (*window_breaches(plan, opportunities), *reason_breaches_of_windows(plan, opportunities))


def breaches_of_showing(plan: Plan, every: Opportunities) -> tuple[str, ...]:
    """Return in words which targets show on other nights than the plan tells."""
    return tuple(showing_breaches(plan, every))


def breaches_of_changes(plan: Plan, previous: Plan) -> tuple[str, ...]:
    """Return in words which of its changes a plan made anew does not tell, and what announced it dropped."""
    return tuple(change_breaches(plan, previous))
