"""Improve a plan a few nights at a time, drawn where the gap to the bound lies."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ..domain.opportunity import Floats, Ints
from .chain import linked
from .crew import Crew
from .goals import SCALE
from .neighbourhood import Neighbourhood, Programme, left_of

if TYPE_CHECKING:
    from .bound import Bound
    from .problem import Problem

SMALLEST, FIRST, LARGEST = 2, 4, 14  # nights set free at a time
WORK = 0.03  # most solver work, times the square of the nights
MOST_WORK = 0.6
EMPTYING = 0.4  # part of the draws that try to empty a night with few visits, where nights out cost
HOPE = 0.1  # rows that lose more than this part of the dearest row are not tried
TIE = 0.03  # a night is a good trade for a target if it loses no more than this part of the dearest row


class Improver:
    """Draws neighbourhoods and keeps the best plan, `best`."""

    def __init__(
        self, problem: Problem, bound: Bound, best: Programme, crew: Crew, random: np.random.Generator
    ) -> None:
        self.problem, self.crew, self.random = problem, crew, random
        self.windows, self.nights = bound.windows, np.unique(bound.windows.night)
        self._size = float(FIRST)
        self.best = linked(problem, self.windows, self._paying(best))
        self.sharpened(bound)

    def sharpened(self, bound: Bound) -> None:
        """Take a new bound and its prices."""
        self.bound, self.value, self.stale = bound, bound.value, 0
        dearest = float(self.windows.value.max(initial=0.0))
        loss = np.maximum(bound.keep + bound.cost - self.windows.value, 0.0)
        self._hopeful = loss < HOPE * dearest
        self._ties = np.zeros((len(self.problem.visits), len(self.problem.night_day)))
        np.maximum.at(self._ties, (self.windows.target, self.windows.night), np.exp(-loss / (TIE * dearest)))

    @property
    def objective(self) -> float:
        """Worth of the best plan, less the cost of its nights."""
        return self._worth(self.best)

    def _worth(self, made: Programme) -> float:
        return self.problem.worth_of(self.windows.rows[made.columns])

    @property
    def gap(self) -> float:
        """The proven distance to the best, as a fraction."""
        return (self.value - self.objective) / max(self.value, 1e-12)

    @property
    def spent(self) -> bool:
        """Whether so many neighbourhoods won nothing that more of them will not."""
        return self.stale > 12 + 1.5 * len(self.nights)

    def turn(self) -> None:
        """Set one or two groups of nights free, and keep what is better."""
        before, size = self.objective, min(int(self._size), len(self.nights))
        groups = self._groups(size)
        jobs = self._jobs(groups)
        proven = True
        for freed, found in zip(groups, self.crew.settle(jobs), strict=True):
            proven &= found.proven
            if found.made is not None:
                held = self.best.on(self.windows, freed, outside=True)
                # two groups may each have leant on a visit that the other moved
                other = linked(self.problem, self.windows, held.joined(found.made))
                self.best = max(self.best, other, key=self._worth)
        if proven and size == len(self.nights):
            # the whole season was free: the plan is the best, but for the rounding of values in the model
            unit = float(self.windows.value.max()) / SCALE
            rounded = float(self.problem.visits.sum()) + len(self.problem.charged)
            self.value = min(self.value, self.objective + unit * rounded)
        gained = self.objective > before + 1e-9 * self.value
        self.stale = 0 if gained else self.stale + len(groups)
        if not proven:
            self._size = max(SMALLEST, self._size - 0.5)
        elif not gained:
            self._size = min(LARGEST, self._size + 0.25)

    def _groups(self, size: int) -> list[Ints]:
        """One group of nights, and where enough are left another apart from it."""
        loss, missed = self._losses()
        first = self._group(size, loss, missed, self.nights)
        others = np.setdiff1d(self.nights, first)
        return [first, self._group(size, loss, missed, others)] if len(others) >= 2 * size else [first]

    def _group(self, size: int, loss: Floats, missed: Floats, among: Ints) -> Ints:
        """A night that holds much of the gap or few visits, and those that could trade with it."""
        w, ties = self.windows, self._ties
        share = ties / np.maximum(ties.sum(axis=1, keepdims=True), 1e-9)
        loss = loss + (missed[:, None] * share).sum(axis=0)
        night = w.night[self.best.columns]
        made = np.bincount(night, minlength=len(loss))
        sparse = among[(made[among] > 0) & (self.problem.outing_cost[among] > 0)]
        emptying = bool(len(sparse)) and self.random.random() < EMPTYING
        if emptying:
            odds = 1.0 / made[sparse] ** 2
            seed = int(self.random.choice(sparse, p=odds / odds.sum()))
        else:
            odds = loss[among] + 0.02 * loss.sum() / len(among) + 1e-9
            seed = int(self.random.choice(among, p=odds / odds.sum()))
        mine = w.target[self.best.columns[night == seed]]
        pull = ties[mine].sum(axis=0) + (missed * ties[:, seed]) @ ties / max(missed.max(initial=0.0), 1e-9)
        # what leaves a night had best go where somebody is out already
        lean = 0.2 + (made > 0) if emptying else 0.3 + loss / max(loss.max(), 1e-12)
        pull = (0.01 + pull) * lean * (0.2 + self.random.random(len(pull)))
        others = among[among != seed]
        near = others[np.argsort(-pull[others], kind="stable")[: size - 1]]
        freed = np.append(near, seed)
        return self._whole_dates(seed, freed, loss, made, among) if self.problem.dated else np.sort(freed)

    def _whole_dates(self, seed: int, freed: Ints, loss: Floats, made: Ints, among: Ints) -> Ints:
        """The nights with a partner of the seed's under each full limit, and every site of their dates.

        A trip more in a full season is only won by one less elsewhere.
        """
        for nights, most in self.problem.limits:
            group = np.intersect1d(nights, among)
            out = made[group] > 0
            if seed in nights and 0 < most <= int(out.sum()):
                partners = group[~out if made[seed] else out]
                if len(partners):
                    odds = loss[partners] + 1e-9 if made[seed] else 1.0 / made[partners]
                    freed = np.append(freed, self.random.choice(partners, p=odds / odds.sum()))
        day = self.problem.night_day
        return among[np.isin(day[among], day[freed])]

    def _paying(self, made: Programme) -> Programme:
        """The visits of the nights that bring more than they cost."""
        w, cost = self.windows, self.problem.outing_cost
        brings = np.bincount(w.night[made.columns], w.value[made.columns], len(cost))
        return made.on(w, np.flatnonzero(brings > cost))

    def _losses(self) -> tuple[Floats, Floats]:
        """Where the gap lies: by night (poor rows, room unsold) and by target (visits not made)."""
        w, bound = self.windows, self.bound
        used = np.zeros(len(w.rows))
        used[self.best.columns] = 1.0
        poor = used * np.maximum(bound.keep + bound.cost - w.value, 0.0)
        loss, sold = np.zeros((2, len(self.problem.night_day)))
        np.add.at(loss, w.night, poor)
        for cut, price in zip(bound.cuts, bound.cut_price.tolist(), strict=True):
            unsold = cut.room - float(cut.coefficient @ used[w.of_night(cut.night)])
            loss[cut.night] += price * max(0.0, unsold)
            sold[cut.night] += price * cut.room
        out = np.zeros(len(loss), np.bool_)
        out[w.night[self.best.columns]] = True
        # a night at home misses only what its room sells for above going out; a night out may not bring that
        home, dear = np.maximum(sold - bound.out_price, 0.0), np.maximum(bound.out_price - sold, 0.0)
        loss = np.where(out, loss + dear, home)
        keep = np.zeros(len(self.problem.visits))
        np.maximum.at(keep, w.target, bound.keep)
        missed = self.problem.visits - np.bincount(w.target[self.best.columns], minlength=len(keep))
        return loss, keep * np.maximum(missed, 0).astype(np.float64)

    def _jobs(self, groups: list[Ints]) -> list[Neighbourhood]:
        jobs = []
        for freed in groups:
            held = self.best.on(self.windows, freed, outside=True)
            left, columns = left_of(self.problem, self.windows, held, freed)
            cuts = tuple(cut for cut in self.bound.cuts if cut.time and cut.night in freed)
            hint = self.best.on(self.windows, freed)
            if len(freed) < len(self.nights):
                columns = columns[self._hopeful[columns] | np.isin(columns, hint.columns)]
            work = min(WORK * len(freed) ** 2, MOST_WORK)
            jobs.append(Neighbourhood(left, columns, self.problem.value, hint, cuts, work, held=held))
        return self._parted(jobs, groups) if len(jobs) == 2 else jobs

    def _parted(self, jobs: list[Neighbourhood], groups: list[Ints]) -> list[Neighbourhood]:
        """Deal what both groups could use to one of them, so that both results hold together.

        A target not in either plan goes where it fits better. Where several visits are wanted, or nights
        out are limited, the second group may keep or drop what it has, but add nothing.
        """
        w, problem, (a, b) = self.windows, self.problem, jobs
        ta, tb = w.target[a.columns], w.target[b.columns]
        better = self._ties[:, groups[0]].max(axis=1) >= self._ties[:, groups[1]].max(axis=1)
        shared = np.zeros(len(problem.visits), np.bool_)
        shared[np.intersect1d(ta, tb)] = True
        own_a, own_b = (np.isin(self._pairs(j.columns), self._pairs(j.hint.columns)) for j in jobs)
        often = problem.visits > 1
        keep_a = ~shared[ta] | often[ta] | better[ta] | own_a
        keep_b = ~shared[tb] | (~often[tb] & ~better[tb]) | own_b
        if problem.limits:
            keep_b &= np.isin(w.night[b.columns], w.night[b.hint.columns])
        return [replace(a, columns=a.columns[keep_a]), replace(b, columns=b.columns[keep_b])]

    def _pairs(self, columns: Ints) -> Ints:
        return self.windows.night[columns] * len(self.problem.visits) + self.windows.target[columns]
