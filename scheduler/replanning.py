"""A plan made anew after a night: what was seen is off the list, what was told to others stands."""

from __future__ import annotations

from .domain import Cancel, Plan, Report, Scenario, ignore_progress, never_cancelled
from .domain.checks import holds
from .year import plan_year


def replan(
    previous: Plan,
    scenario: Scenario,
    *,
    version: int | None = None,
    seed: int = 0,
    seconds: float = 5.0,
    years: int = 0,
    workers: int = 1,
    report: Report = ignore_progress,
    cancel: Cancel = never_cancelled,
) -> Plan:
    """Return the plan of what is still wanted, near the previous one, with every change and its reason.

    Parameters
    ----------
    previous : The plan made last.
    scenario : With its log, lines added since; wish-list and settings may have changed too.
    version : None means the one after the previous plan's.
    seed, seconds, years, workers, report, cancel : As for `plan_year`; the search begins with the
        previous plan.

    Raises
    ------
    InvalidValue
        The previous plan shares no target with the scenario's wish-list, so that it must be another's; or as
        `plan_year`.
    OutsideEphemeris, Cancelled, PlanRejected
        As `plan_year`.

    Notes
    -----
    A published visit counts `routine.steadiness` of its own worth more than the same visit elsewhere; the
    plan's objective and bound leave that out. The programme of an announced evening stands, at its times,
    unless an outcome forces otherwise, and limits on nights out give way to it. The same previous plan,
    scenario and seed give the same plan, byte for byte.
    """
    shared = {target.name for target in previous.targets} & {target.name for target in scenario.targets}
    expected = f'a plan that shares at least one target with the wish-list of "{scenario.name}"'
    holds("previous plan", f"one of {previous.scenario}", bool(shared), expected)
    version = previous.version + 1 if version is None else version
    return plan_year(
        scenario, previous=previous, version=version, seed=seed, seconds=seconds, years=years,
        workers=workers, report=report, cancel=cancel,
    )  # fmt: skip
