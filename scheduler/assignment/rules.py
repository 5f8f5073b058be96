"""The hard rules, one sentence each; every one adds its constraints to a CP-SAT model."""

from __future__ import annotations

from ortools.sat.python import cp_model

from .problem import NO_LIMIT_DAYS, Problem
from .variables import Variables


def visits_fit_their_windows(model: cp_model.CpModel, problem: Problem, variables: Variables) -> None:
    """Each visit lies wholly inside the one row it is made in."""
    o = problem.opportunities
    for visit in variables.visits:
        origin, minutes = variables.night_start[visit.night], int(problem.minutes[visit.target])
        spans = [
            [int(o.start_min[row]) - origin, int(o.end_min[row]) - origin - minutes] for row in visit.rows
        ]
        # unconditional, for the start of a visit not made means nothing: it keeps the domains small
        model.add_linear_expression_in_domain(visit.start, cp_model.Domain.from_intervals(spans))
        if len(visit.rows) > 1:
            for row, (first, last) in zip(visit.rows, spans, strict=True):
                inside = cp_model.Domain(first, last)
                model.add_linear_expression_in_domain(visit.start, inside).only_enforce_if(variables.row[row])


def visits_of_a_night_do_not_overlap(model: cp_model.CpModel, problem: Problem, variables: Variables) -> None:
    """Visits of a night follow one another, with time to move between them."""
    for visits in variables.of_night().values():
        model.add_no_overlap(
            [
                model.new_optional_fixed_size_interval_var(
                    visit.start, int(problem.minutes[visit.target]) + problem.move_min, visit.made, ""
                )
                for visit in visits
            ]
        )


def visits_wanted_are_not_exceeded(model: cp_model.CpModel, problem: Problem, variables: Variables) -> None:
    """No target is visited more often than wanted."""
    for target, visits in variables.of_target().items():
        wanted = int(problem.visits[target])
        if wanted == 1:
            model.add_at_most_one(visit.made for visit in visits)
        elif wanted < len(visits):
            model.add(sum(visit.made for visit in visits) <= wanted)


def visits_keep_their_spacing(model: cp_model.CpModel, problem: Problem, variables: Variables) -> None:
    """Two visits of a target are at least its spacing apart."""
    for target, visits in variables.of_target().items():
        spacing = int(problem.spacing_days[target])
        if problem.visits[target] < 2:
            continue
        days = [int(problem.night_day[visit.night]) for visit in visits]
        for i, day in enumerate(days):
            if i and days[i - 1] == day:
                continue  # the same night at another site begins the same cluster
            near = [v.made for v, other in zip(visits, days, strict=True) if day <= other < day + spacing]
            # a cluster inside the one that began a visit earlier says nothing new
            if len(near) > 1 and not (i and days[i - 1] + spacing > days[i + len(near) - 1]):
                model.add_at_most_one(near)


def visits_follow_soon_enough(model: cp_model.CpModel, problem: Problem, variables: Variables) -> None:
    """Between a visit of a target and the next no more days pass than its longest spacing.

    A visit that has another more than so many days after it has one within them too; but of two visits that
    stand whatever is decided nothing is asked.
    """
    for target, visits in variables.of_target().items():
        longest = int(problem.longest_spacing_days[target])
        if longest >= NO_LIMIT_DAYS:
            continue
        standing = problem.held_days.get(target, ())
        held = {*variables.held_days.get(target, ()), *standing}
        made = [(int(problem.night_day[visit.night]), visit.made) for visit in visits]
        made += [(day, model.new_constant(1)) for day in sorted(held)]
        for first, one in made:
            soon = [other for day, other in made if first < day <= first + longest]
            far = [(day, other) for day, other in made if day > first + longest]
            for day, other in far:
                if not (first in standing and day in standing):
                    model.add_bool_or([~one, ~other, *soon])


def visits_are_made_outside(model: cp_model.CpModel, problem: Problem, variables: Variables) -> None:
    """A night with a visit is spent outside."""
    for visit in variables.visits:
        if visit.night in variables.out:
            model.add_implication(visit.made, variables.out[visit.night])


def nights_out_are_limited(model: cp_model.CpModel, problem: Problem, variables: Variables) -> None:
    """Of each group of nights, only so many are spent outside."""
    for limit in problem.limits:
        out = [variables.out[night] for night in limit.nights if night in variables.out]
        if len(out) > limit.most:
            model.add(sum(out) <= limit.most)


RULES = (
    visits_fit_their_windows,
    visits_of_a_night_do_not_overlap,
    visits_wanted_are_not_exceeded,
    visits_keep_their_spacing,
    visits_follow_soon_enough,
    visits_are_made_outside,
    nights_out_are_limited,
)


def all_rules(model: cp_model.CpModel, problem: Problem, variables: Variables) -> None:
    """Add every rule."""
    for rule in RULES:
        rule(model, problem, variables)
