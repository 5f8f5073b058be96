"""From chosen rows to the nights' programmes: visits, standbys, and what is left out."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .domain import Availability, FreeNight, Kind, Opportunities, Span, Standby, Unplaced, Visit
from .domain.opportunity import Floats, Ints
from .domain.scenario import Routine
from .order import NightVisits
from .sequence import sequence
from .visibility.prospect import Prospect
from .visibility.sights import looks_at
from .visibility.unseen import reasons_of
from .visibility.words import why_then

STANDBYS_A_NIGHT, STANDBYS_FOR_GUESTS = 3, 8
BRIGHT = (Kind.PLANET, Kind.MOON_FEATURE)
"""What spoils eyes adapted to the dark."""


@dataclass(frozen=True, eq=False)
class Writer:
    """Writes programmes for one season.

    Attributes
    ----------
    prospect : The season and its targets.
    free : The free nights, in order.
    opportunities : Where each target shows on them.
    """

    prospect: Prospect
    free: tuple[FreeNight, ...]
    opportunities: Opportunities

    def settled(self, rows: Ints, start_min: Ints, move_min: int) -> Ints:
        """Return starts of visits in these rows, each as near its best as its night lets it, (visits,).

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
                chosen.best_min[on], move_min, faint[chosen.target[on]], bright[chosen.target[on]],
            )  # fmt: skip
            settled[here] = sequence(visits, start_min[here])
        return settled

    def visits(self, rows: Ints, start_min: Ints) -> tuple[Visit, ...]:
        """Return visits in these rows at these starts, both (visits,), in order of time."""
        in_time = np.argsort(start_min, kind="stable")
        rows, start_min = rows[in_time], start_min[in_time]
        minutes = self._minutes[self.opportunities.target[rows]]
        where = self._where(rows)
        looks = looks_at(self.prospect, *where, self._unix_s(start_min + minutes / 2))
        order: Counter[int] = Counter()
        visits = []
        for row, start, length, night, look in zip(
            rows.tolist(), start_min.tolist(), minutes.tolist(), where[1].tolist(), looks, strict=True
        ):
            target, on = self._entry(row)
            order[int(self.opportunities.night[row])] += 1
            time = Span(self.opportunities.moment(start), self.opportunities.moment(start + length))
            why = why_then(self.prospect, self.opportunities, row, night, on.night, time, look.sight)
            place = order[int(self.opportunities.night[row])]
            visits.append(Visit(target, on.evening, place, time, look.sight, why, look.view, look.pointing))
        return tuple(visits)

    def standbys(self, advantage: Floats, visited: Ints) -> tuple[Standby, ...]:
        """Return for each free night the targets not on its programme that gain most from it, best first.

        Parameters
        ----------
        advantage : How much better each row is taken than left. (rows,)
        visited : The rows visited. int, (visits,)
        """
        rows = np.array(self._standby_rows(advantage, visited), dtype=np.int64)
        best_min = self.opportunities.best_min[rows]
        where = self._where(rows)
        looks = looks_at(self.prospect, *where, self._unix_s(best_min))
        order: Counter[int] = Counter()
        standbys = []
        for row, best, night, look in zip(
            rows.tolist(), best_min.tolist(), where[1].tolist(), looks, strict=True
        ):
            target, on = self._entry(row)
            order[int(self.opportunities.night[row])] += 1
            one = self.opportunities[row]
            window = Span(self.opportunities.moment(one.start_min), self.opportunities.moment(one.end_min))
            why = why_then(self.prospect, self.opportunities, row, night, on.night, window, look.sight)
            place = order[int(self.opportunities.night[row])]
            best_moment = self.opportunities.moment(best)
            standbys.append(
                Standby(
                    target, on.evening, place, window, best_moment, look.sight, why, look.view, look.pointing
                )
            )
        return tuple(standbys)

    def unplaced(
        self, routine: Routine, availability: Availability, visits: Sequence[Visit]
    ) -> tuple[Unplaced, ...]:
        """Return the targets with fewer visits than wanted, each with the reason that binds."""
        done = Counter(visit.target for visit in visits)
        targets = self.prospect.targets
        missing = [row for row, target in enumerate(targets) if done[target.name] < target.visits]
        reasons = reasons_of(
            self.prospect, self.free, routine, availability, self.opportunities, visits, missing
        )
        return tuple(
            Unplaced(targets[row].name, targets[row].visits - done[targets[row].name], reason, words)
            for row, (reason, words) in zip(missing, reasons, strict=True)
        )

    def _standby_rows(self, advantage: Floats, visited: Ints) -> list[int]:
        """Return rows night by night, the largest advantage first, each target once a night."""
        target, night = self.opportunities.target, self.opportunities.night
        refused = self._too_near_a_visit(visited)
        chosen: dict[int, list[int]] = defaultdict(list)
        for row in np.lexsort((-advantage, night)).tolist():
            pair = int(target[row]), int(night[row])
            if (
                pair not in refused
                and self.free[pair[1]].ever_clear
                and len(chosen[pair[1]]) < self._most_standbys(pair[1])
            ):
                refused.add(pair)
                chosen[pair[1]].append(row)
        return [row for on in sorted(chosen) for row in chosen[on]]

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

    def _entry(self, row: int) -> tuple[str, FreeNight]:
        target, night = int(self.opportunities.target[row]), int(self.opportunities.night[row])
        return self.prospect.targets[target].name, self.free[night]

    def _where(self, rows: Ints) -> tuple[Ints, Ints]:
        """Return the target and the night of the season, by position, of each row."""
        position = {evening: night for night, evening in enumerate(self.prospect.sky.evenings)}
        of_free = np.array([position[on.evening] for on in self.free], dtype=np.int64)
        return self.opportunities.target[rows], of_free[self.opportunities.night[rows]]

    def _unix_s(self, minute: Floats | Ints) -> Floats:
        return np.asarray(self.opportunities.epoch.timestamp() + 60.0 * minute)
