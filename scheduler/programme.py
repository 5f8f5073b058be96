"""From chosen rows to the nights' programmes: visits, standbys, and what is left out."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

import numpy as np

from .domain import (
    Availability,
    FreeNight,
    Kind,
    Opportunities,
    Outcome,
    Span,
    Standby,
    Unplaced,
    Visit,
    sightings_in,
)
from .domain.opportunity import Floats, Ints
from .domain.scenario import Routine
from .order import Bools, NightVisits
from .sequence import sequence
from .visibility.prospect import Prospect
from .visibility.sights import Look, looks_at
from .visibility.unseen import reasons_of
from .visibility.words import why_then

STANDBYS_A_NIGHT, STANDBYS_FOR_GUESTS = 3, 8
LINGER_MIN = 60
"""So long after its last visit a programme's time left may be used (common practice, no source). [min]"""
WAIT_MIN = 120
"""A visit goes as far as this from its best to spare as much waiting (our judgement). [min]"""
BRIGHT = (Kind.PLANET, Kind.MOON_FEATURE)
"""What spoils eyes adapted to the dark."""


class _Entry(NamedTuple):
    """What visits and standbys have alike: the target's name, the night, the place in it, when."""

    target: str
    evening: date
    order: int
    time: Span
    moment: datetime


@dataclass(frozen=True, eq=False)
class Writer:
    """Writes programmes for one season.

    Attributes
    ----------
    prospect : The season and its targets.
    free : The free nights, in order.
    opportunities : Where each target shows on them.
    prospects : The season as seen on each free night; none given are all `prospect`.
    """

    prospect: Prospect
    free: tuple[FreeNight, ...]
    opportunities: Opportunities
    prospects: tuple[Prospect, ...] = ()

    def kept(self, visited: Ints) -> Ints:
        """Return the free nights, by position, one an evening: the one with visits, else the last, home."""
        out = set(self.opportunities.night[visited].tolist())
        chosen: dict[date, int] = {}
        for night, on in enumerate(self.free):
            if chosen.get(on.evening) not in out:
                chosen[on.evening] = night
        return np.array(sorted(chosen.values()), dtype=np.int64)

    def settled(self, rows: Ints, start_min: Ints, move_min: int) -> Ints:
        """Return starts of visits in these rows, each as near its best as waiting allows, (visits,).

        Planets and the Moon come before or after what is faint as far as their rows let them. `start_min`
        proves that the visits fit at all.
        """
        settled = start_min.copy()
        chosen = self.opportunities
        kinds = [target.kind for target in self.prospect.targets]
        faint, bright = np.array([(kind.faint, kind in BRIGHT) for kind in kinds], np.bool_).reshape(-1, 2).T
        for night in np.unique(chosen.night[rows]):
            here = np.flatnonzero(chosen.night[rows] == night)
            on = rows[here]
            visits = NightVisits(
                chosen.start_min[on], chosen.end_min[on], self._minutes[chosen.target[on]],
                chosen.best_min[on], move_min, faint[chosen.target[on]], bright[chosen.target[on]], WAIT_MIN,
            )  # fmt: skip
            settled[here] = sequence(visits, start_min[here])
        return settled

    def visits(self, rows: Ints, start_min: Ints) -> tuple[Visit, ...]:
        """Return visits in these rows at these starts, both (visits,), in order of time."""
        in_time = np.argsort(start_min, kind="stable")
        rows, start_min = rows[in_time], start_min[in_time]
        minutes = self._minutes[self.opportunities.target[rows]]
        return tuple(
            Visit(entry.target, entry.evening, entry.order, entry.time, look.sight, why, look.view,
                  look.pointing)
            for entry, look, why in self._told(rows, start_min, start_min + minutes, start_min + minutes / 2)
        )  # fmt: skip

    def standbys(self, advantage: Floats, visited: Ints, start_min: Ints) -> tuple[Standby, ...]:
        """Return for each free night the targets not on its programme that gain most from it, best first.

        Beside a programme a standby has room, and its best moment, while the observer is out.

        Parameters
        ----------
        advantage : How much better each row is taken than left. (rows,)
        visited, start_min : The rows visited, and when. int, (visits,)
        """
        first_min, last_min = self._usable(visited, start_min)
        roomy = last_min - first_min >= self._minutes[self.opportunities.target]
        rows = np.array(self._standby_rows(advantage, visited, roomy), dtype=np.int64)
        chosen = self.opportunities
        best_min: Floats = np.clip(chosen.best_min[rows].astype(np.float64), first_min[rows], last_min[rows])
        return tuple(
            Standby(entry.target, entry.evening, entry.order, entry.time, entry.moment, look.sight, why,
                    look.view, look.pointing)
            for entry, look, why in self._told(
                rows, chosen.start_min[rows], chosen.end_min[rows], best_min
            )
        )  # fmt: skip

    def unplaced(
        self,
        routine: Routine,
        availability: Availability,
        visits: Sequence[Visit],
        log: Sequence[Outcome] = (),
        away: frozenset[date] = frozenset(),
    ) -> tuple[Unplaced, ...]:
        """Return the targets with fewer visits than wanted, each with the reason that binds.

        What the `log` says was seen counts as visited. The writer's opportunities must be all there are.
        `away` are the evenings planned away from home.
        """
        seen = Counter(sighting.target for sighting in sightings_in(log))
        done = seen + Counter(visit.target for visit in visits)
        targets = self.prospect.targets
        missing = [row for row, target in enumerate(targets) if done[target.name] < target.visits]
        reasons = reasons_of(
            self.prospect, self.free, routine, availability, self.opportunities, visits, missing, log, away
        )
        return tuple(
            Unplaced(targets[row].name, targets[row].visits - done[targets[row].name], reason, words)
            for row, (reason, words) in zip(missing, reasons, strict=True)
        )

    def _told(
        self, rows: Ints, start_min: Ints, end_min: Ints, moment_min: Floats
    ) -> Iterator[tuple[_Entry, Look, str]]:
        """Yield what visits and standbys have alike, looked at in a moment of their time; all (entries,)."""
        chosen, looks = self.opportunities, self._looks(rows, moment_min)
        day = np.array([on.evening.toordinal() for on in self.free], dtype=np.int64)
        order: Counter[date] = Counter()
        times = zip(start_min.tolist(), end_min.tolist(), moment_min.tolist(), strict=True)
        for row, (start, end, moment), look in zip(rows.tolist(), times, looks, strict=True):
            on = self.free[int(chosen.night[row])]
            order[on.evening] += 1
            name = self.prospect.targets[int(chosen.target[row])].name
            time = Span(chosen.moment(start), chosen.moment(end))
            entry = _Entry(name, on.evening, order[on.evening], time, chosen.moment(moment))
            prospect = self._seen_on(int(chosen.night[row]))
            why = why_then(prospect, chosen, row, on.night, time, entry.moment, look.sight, day)
            yield entry, look, why

    def _looks(self, rows: Ints, moment_min: Floats) -> list[Look]:
        """Return how the targets of rows are met at moments of their nights, each from its own site."""
        chosen = self.opportunities
        target, night = self._where(rows)
        unix_s = chosen.epoch.timestamp() + 60.0 * moment_min
        seen = [self._seen_on(on) for on in chosen.night[rows].tolist()]
        looks: dict[int, Look] = {}
        for prospect in {id(one): one for one in seen}.values():
            mine = np.array([place for place, one in enumerate(seen) if one is prospect], dtype=np.int64)
            there = looks_at(prospect, target[mine], night[mine], unix_s[mine])
            looks.update(zip(mine.tolist(), there, strict=True))
        return [looks[place] for place in range(len(rows))]

    def _seen_on(self, night: int) -> Prospect:
        return self.prospects[night] if self.prospects else self.prospect

    def _usable(self, visited: Ints, start_min: Ints) -> tuple[Floats, Floats]:
        """Return from when to when each row can be used while the observer is out, both (rows,). [min]

        That is from the first visit of its night on and a while after the last; in hand, always.
        """
        o = self.opportunities
        first_min, last_min = np.full(len(self.free), np.inf), np.full(len(self.free), -np.inf)
        np.minimum.at(first_min, o.night[visited], start_min)
        np.maximum.at(last_min, o.night[visited], start_min + self._minutes[o.target[visited]] + LINGER_MIN)
        in_hand = np.isinf(first_min)
        first_min[in_hand], last_min[in_hand] = -np.inf, np.inf
        return np.maximum(o.start_min, first_min[o.night]), np.minimum(o.end_min, last_min[o.night])

    def _standby_rows(self, advantage: Floats, visited: Ints, roomy: Bools) -> list[int]:
        """Return roomy rows night by night, the largest advantage first, each target once a night."""
        target, night = self.opportunities.target, self.opportunities.night
        with_guests = np.array([on.guests > 0 for on in self.free], dtype=np.bool_)[night]
        first = np.where(with_guests, self._showiness, advantage)
        refused, kept = self._too_near_a_visit(visited), set(self.kept(visited).tolist())
        chosen: dict[int, list[int]] = defaultdict(list)
        for row in np.lexsort((-first, night)).tolist():
            pair = int(target[row]), int(night[row])
            if (
                roomy[row]
                and pair not in refused
                and pair[1] in kept
                and self.free[pair[1]].ever_clear
                and len(chosen[pair[1]]) < self._most_standbys(pair[1])
            ):
                refused.add(pair)
                chosen[pair[1]].append(row)
        return [row for on in sorted(chosen) for row in chosen[on]]

    @property
    def _showiness(self) -> Floats:
        """How much each row has to show to guests, whatever the wish-list still lacks. (rows,)

        The Moon and the planets first, then what is brightest (common practice, no source).
        """
        in_the_way = {Kind.ECLIPSE: 20.0, Kind.PLANET: 16.0, Kind.MOON_FEATURE: 15.0}
        bonus = np.array([
            in_the_way.get(target.kind, 10.0 - (10.0 if target.magnitude is None else target.magnitude))
            for target in self.prospect.targets
        ])  # fmt: skip
        return np.asarray(bonus[self.opportunities.target] + self.opportunities.merit)

    def _most_standbys(self, night: int) -> int:
        """Return how many standbys a night has: guests are shown round, whatever the wish-list lacks."""
        return STANDBYS_FOR_GUESTS if self.free[night].guests else STANDBYS_A_NIGHT

    def _too_near_a_visit(self, visited: Ints) -> set[tuple[int, int]]:
        """Return targets and nights that are visited or, if visited often, within a visit's spacing."""
        day = np.array([on.evening.toordinal() for on in self.free], dtype=np.int64)
        near = set()
        for target, night in zip(
            self.opportunities.target[visited].tolist(),
            self.opportunities.night[visited].tolist(),
            strict=True,
        ):
            wish = self.prospect.targets[target]
            rest_days = wish.spacing_days if wish.visits > 1 else 1
            near |= {(target, int(other)) for other in np.flatnonzero(np.abs(day - day[night]) < rest_days)}
        return near

    @property
    def _minutes(self) -> Ints:
        return self.prospect.minutes

    def _where(self, rows: Ints) -> tuple[Ints, Ints]:
        """Return the target and the night of the season, by position, of each row."""
        position = {evening: night for night, evening in enumerate(self.prospect.sky.evenings)}
        of_free = np.array([position[on.evening] for on in self.free], dtype=np.int64)
        return self.opportunities.target[rows], of_free[self.opportunities.night[rows]]
