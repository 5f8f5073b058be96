"""What a plan made anew does otherwise than the one before, visit by visit, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

import numpy as np

from .domain import Change, ChangeReason, Opportunities, Plan, Target, Visit, Went
from .domain.opportunity import Ints
from .moves import Move, moves_of
from .order import NightVisits, order_of

LOST = {
    Went.CLOUDED_OUT: ChangeReason.CLOUDED_OUT,
    Went.COULD_NOT_GO: ChangeReason.COULD_NOT_GO,
    Went.CLEAR: ChangeReason.NOT_SEEN,
    Went.PART_CLEAR: ChangeReason.NOT_SEEN,
}
SECOND_CHANCES = (*LOST.values(), ChangeReason.PAST)
"""Reasons of visits whose night is behind us: what pushes others aside, if anything does."""


def changes_of(previous: Plan, plan: Plan, opportunities: Opportunities) -> tuple[Change, ...]:
    """Return every difference between the visits of two plans, each once, by date.

    Parameters
    ----------
    previous : The plan published before.
    plan : The new one; its own changes are not looked at.
    opportunities : Those the new plan was chosen from.

    Notes
    -----
    Visits are compared as `moves_of` does, and on announced evenings also by their times.
    """
    return _Comparison(previous, plan, opportunities).changes


@dataclass(frozen=True, eq=False)
class _Comparison:
    """Two plans side by side."""

    previous: Plan
    plan: Plan
    opportunities: Opportunities

    @cached_property
    def changes(self) -> tuple[Change, ...]:
        """Every change, by date."""
        found = [self._shift(visit) for visit in self._shifted]
        for move in self._moves:
            if move.before is None:
                found.append(self._new(move))
            else:
                reason, words = self._why(move, move.before)
                found.append(Change(move.target, move.before, move.after, reason, words))
        return tuple(
            sorted(found, key=lambda c: (c.before or c.after or date.max, c.target, c.after or date.max))
        )

    @cached_property
    def _moves(self) -> list[Move]:
        return moves_of(self.previous, self.plan)

    @property
    def _shifted(self) -> Iterator[Visit]:
        """The visits of announced evenings that begin at another time than before."""
        starts = {(visit.target, visit.evening): visit.time.start for visit in self.previous.visits}
        for visit in self.plan.visits:
            before = starts.get((visit.target, visit.evening), visit.time.start)
            if visit.evening in self.plan.announced and before != visit.time.start:
                yield visit

    def _shift(self, visit: Visit) -> Change:
        local = visit.time.start.astimezone(self.plan.site.local)
        words = f"does not fit at its old time any more; now at {local:%H:%M}"
        return Change(visit.target, visit.evening, visit.evening, ChangeReason.SHIFTED, words)

    def _new(self, move: Move) -> Change:
        known = {target.name for target in self.previous.targets}
        words = "one visit more than before" if move.target in known else "new on the wish-list"
        if move.target in {entry.target for entry in self.previous.unplaced}:
            words = "had no place before"
        return Change(move.target, None, move.after, ChangeReason.NEWLY_PLACED, words)

    def _why(self, move: Move, before: date) -> tuple[ChangeReason, str]:
        """Return why a visit is not on its evening any more: the first thing that stands in the way."""
        target = self._targets.get(move.target)
        if target is None:
            return ChangeReason.OFF_LIST, "no longer on the wish-list"
        if move.after is None and (dropped := self._not_wanted(target)):
            return dropped
        if self._last_logged and before <= self._last_logged:
            went = self._went.get(before)
            reason = LOST[went] if went else ChangeReason.PAST
            return reason, _WORDS[reason].format(before)
        return self._in_the_way(target, before, move.after) or self._pushed(target, before, move.after)

    def _not_wanted(self, target: Target) -> tuple[ChangeReason, str] | None:
        """Return why a target has visits enough without this one, or None where it has not."""
        seen = [sighting.evening for sighting in self.plan.seen if sighting.target == target.name]
        planned = sum(visit.target == target.name for visit in self.plan.visits)
        if len(seen) + planned < target.visits:
            return None
        if seen:
            return ChangeReason.SEEN, f"seen on {seen[-1]}"
        return ChangeReason.WANTED_LESS, f"{target.visits} wanted now"

    def _in_the_way(
        self, target: Target, before: date, after: date | None
    ) -> tuple[ChangeReason, str] | None:
        """Return what forbids a visit on an evening to come, or None where nothing does."""
        if before not in self._night_of:
            return ChangeReason.NOT_FREE, f"{before} is no longer a free evening"
        others = [s.evening for s in self.plan.seen if s.target == target.name]
        others += [v.evening for v in self.plan.visits
                   if v.target == target.name and v.evening in self.plan.announced]  # fmt: skip
        near = [one for one in others if one != after and abs((before - one).days) < target.spacing_days]
        if near:
            return ChangeReason.TOO_SOON, f"less than {target.spacing_days} days from {near[-1]}"
        there, was = self.plan.site_of(before).name, self.previous.site_of(before).name
        if there != was:
            return ChangeReason.OTHER_SITE, f"{before} would be spent at {there} now, not at {was}"
        if self._widest(target, before) < 0:
            return ChangeReason.NOT_SHOWN, f"does not show on {before} any more"
        return None

    def _pushed(self, target: Target, before: date, after: date | None) -> tuple[ChangeReason, str]:
        """Return what is done instead of a visit that might have stayed."""
        if before in self.plan.availability.announced:
            return ChangeReason.NO_ROOM, f"what was announced for {before} does not all fit any more"
        own = [visit.evening for visit in self.plan.visits if visit.target == target.name]
        near = [one for one in own if one != after and abs((before - one).days) < target.spacing_days]
        if near:
            return ChangeReason.MADE_ROOM, f"less than {target.spacing_days} days from its visit on {near[0]}"
        limit = self._limit_reached(before)
        if limit:
            return ChangeReason.NIGHTS_LIMIT, f"{before} would be one night out too many in its {limit}"
        if not self._fits_too(target, before):
            by = self._newcomer(before)
            if by is None:
                return ChangeReason.NO_ROOM, f"does not fit into {before} beside the rest any more"
            told = f", whose night of {by.before} is past" if self._second_chance(by) else ""
            return ChangeReason.MADE_ROOM, f"made room for {by.target}{told}"
        if after is not None:
            return ChangeReason.BETTER_NIGHT, f"worth more on {after}, as the nights to come now stand"
        words = next((entry.words for entry in self.plan.unplaced if entry.target == target.name), "")
        return ChangeReason.GIVEN_UP, words or "no longer placed"

    def _newcomer(self, evening: date) -> Move | None:
        """Return the visit new on an evening, one that lost its night before any other."""
        new = [move for move in self._moves if move.after == evening]
        return min(new, key=lambda move: (not self._second_chance(move), move.target), default=None)

    def _second_chance(self, move: Move) -> bool:
        """Tell whether a visit comes from a night that is past."""
        return bool(move.before and self._last_logged and move.before <= self._last_logged)

    def _limit_reached(self, evening: date) -> str:
        """Return which limit on nights out keeps an evening from being spent outside, too; else nothing."""
        out = {visit.evening for visit in self.plan.visits}
        if evening in out:
            return ""
        out |= {outcome.evening for outcome in self.plan.log if outcome.out}
        weeks = Counter(one - timedelta(days=one.weekday()) for one in out)
        months = Counter(one.replace(day=1) for one in out)
        a_week, a_month = self.plan.availability.nights_per_week, self.plan.availability.nights_per_month
        if a_week is not None and weeks[evening - timedelta(days=evening.weekday())] >= a_week:
            return "week"
        return "month" if a_month is not None and months[evening.replace(day=1)] >= a_month else ""

    def _fits_too(self, target: Target, evening: date) -> bool:
        """Tell whether a visit would still fit into the programme of an evening."""
        held = evening in self.plan.announced
        visits = [visit for visit in self.plan.visits if visit.evening == evening]
        spans = [self._minutes(visit) if held else self._stretch(self._targets[visit.target], evening)
                 for visit in visits]  # fmt: skip
        spans.append(self._stretch(target, evening))
        minutes = [self._targets[visit.target].minutes for visit in visits] + [target.minutes]
        start_min, end_min = np.array(spans, np.int64).T
        night = NightVisits(
            start_min, end_min, np.array(minutes, np.int64), start_min, self.plan.routine.move_min
        )
        return order_of(night) is not None

    def _minutes(self, visit: Visit) -> tuple[int, int]:
        start = round((visit.time.start - self.opportunities.epoch) / timedelta(minutes=1))
        return start, start + round(visit.time.minutes)

    def _stretch(self, target: Target, evening: date) -> tuple[int, int]:
        row = self._widest(target, evening)
        return int(self.opportunities.start_min[row]), int(self.opportunities.end_min[row])

    def _widest(self, target: Target, evening: date) -> int:
        """Return the longest stretch in which a target shows on an evening, by row; -1 where none is."""
        o, night = self.opportunities, self._night_of[evening]
        first, last = np.searchsorted(o.night, [night, night + 1])
        own: Ints = first + np.flatnonzero(o.target[first:last] == self._target_of[target.name])
        own = own[~o.standby_only[own] & self.plan.nights[night].ever_clear]
        return int(own[(o.end_min - o.start_min)[own].argmax()]) if len(own) else -1

    @cached_property
    def _targets(self) -> dict[str, Target]:
        return {target.name: target for target in self.plan.targets}

    @cached_property
    def _target_of(self) -> dict[str, int]:
        return {target.name: position for position, target in enumerate(self.plan.targets)}

    @cached_property
    def _night_of(self) -> dict[date, int]:
        return {night.evening: position for position, night in enumerate(self.plan.nights)}

    @cached_property
    def _went(self) -> dict[date, Went]:
        return {outcome.evening: outcome.went for outcome in self.plan.log}

    @cached_property
    def _last_logged(self) -> date | None:
        return max(self._went, default=None)


_WORDS = {
    ChangeReason.CLOUDED_OUT: "{} was clouded out",
    ChangeReason.COULD_NOT_GO: "nobody could go on {}",
    ChangeReason.NOT_SEEN: "not seen well on {}",
    ChangeReason.PAST: "{} is past, and the log tells nothing of it",
}
