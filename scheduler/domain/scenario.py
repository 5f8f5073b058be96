"""A season's wishes and circumstances, as read from a scenario's files."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, time, timedelta

from .checks import holds, named, whole, within
from .kit import Kit, Observer
from .outcome import Forecast, OutcomeLog
from .site import Site, Trip
from .target import BINOCULARS, NAKED_EYE, TELESCOPE, Target


@dataclass(frozen=True, slots=True)
class Season:
    """The planned span: the first evening and how many nights follow it, itself included (1 to 400)."""

    start: date
    nights: int = 365

    def __post_init__(self) -> None:
        whole("season nights", self.nights, 1, 400)

    @property
    def evenings(self) -> tuple[date, ...]:
        """Every evening of the season, in order."""
        return tuple(self.start + timedelta(days=day) for day in range(self.nights))


@dataclass(frozen=True, slots=True)
class EveningRule:
    """On these weekdays the observer is free from `start` to `finish`, local time.

    `start` None means from the first usable moment, `finish` None until the last; a finish before noon
    belongs to the next calendar day. Weekdays count from Monday = 0.
    """

    weekdays: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)
    start: time | None = None
    finish: time | None = None

    def __post_init__(self) -> None:
        for weekday in self.weekdays:
            whole("weekday", weekday, 0, 6)
        if self.start and self.finish:
            later = _after_noon(self.start) < _after_noon(self.finish)
            holds(
                "finish", f"{self.finish:%H:%M}", later, f"a time later in the night than {self.start:%H:%M}"
            )


def _after_noon(moment: time) -> int:
    return (moment.hour * 60 + moment.minute - 720) % 1440


@dataclass(frozen=True, slots=True)
class Availability:
    """When the observer can be out.

    Attributes
    ----------
    rules : Weekly pattern; the first rule that names a weekday decides that evening.
    extra : Evenings free although the pattern says no; the first rule's times hold.
    away : Evenings not free although the pattern says yes.
    nights_per_week : Most nights out in one ISO week; None for no limit.
    nights_per_month : Most nights out in one calendar month; None for no limit.
    announced : Evenings already told to others: their programme in the previous plan stands.
    trips_per_month : Most of them away from home; None for no limit.
    trips_per_season : Most nights away from home in the season; None for no limit.
    """

    rules: tuple[EveningRule, ...] = (EveningRule(),)
    extra: frozenset[date] = frozenset()
    away: frozenset[date] = frozenset()
    nights_per_week: int | None = None
    nights_per_month: int | None = None
    announced: frozenset[date] = frozenset()
    trips_per_month: int | None = None
    trips_per_season: int | None = None

    def __post_init__(self) -> None:
        holds("evenings", self.rules, bool(self.rules), "at least one weekly rule")
        if self.nights_per_week is not None:
            whole("nights_per_week", self.nights_per_week, 1, 7)
        if self.nights_per_month is not None:
            whole("nights_per_month", self.nights_per_month, 1, 31)
        if self.trips_per_month is not None:
            whole("trips_per_month", self.trips_per_month, 0, 31)
        if self.trips_per_season is not None:
            whole("trips_per_season", self.trips_per_season, 0, 400)

    @property
    def trips_allowed(self) -> bool:
        """Whether any night may be spent away from home."""
        return 0 not in (self.trips_per_month, self.trips_per_season)

    def rule_of(self, evening: date) -> EveningRule | None:
        """Return the rule under which `evening` is free, or None where it is not."""
        if evening in self.away:
            return None
        for rule in self.rules:
            if evening.weekday() in rule.weekdays:
                return rule
        return self.rules[0] if evening in self.extra else None


@dataclass(frozen=True, slots=True)
class Routine:
    """The fixed costs of a night out; minutes are whole, defaults common practice without a source.

    Attributes
    ----------
    setup_min : From arrival to the first look. [min]
    dark_adaptation_min : From the first look to the first faint target. [min]
    move_min : From one target to the next. [min]
    outing_cost : What a night out must bring to be planned, in priority times merit. [0..50]
    steadiness : Part of its own worth by which a visit already published counts more than the same visit
        elsewhere when a plan is made anew. [0..1]
    """

    setup_min: int = 20
    dark_adaptation_min: int = 30
    move_min: int = 4
    outing_cost: float = 0.25
    steadiness: float = 0.05

    def __post_init__(self) -> None:
        whole("setup_min", self.setup_min, 0, 240)
        whole("dark_adaptation_min", self.dark_adaptation_min, 0, 120)
        whole("move_min", self.move_min, 0, 60)
        within("outing_cost", self.outing_cost, 0.0, 50.0)
        within("steadiness", self.steadiness, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class ClearOdds:
    """How often a night is usable.

    Attributes
    ----------
    monthly : Probability of a usable night, January to December. twelve of 0..1
    persistence : Lag-one correlation of one night with the next. [0..0.95]
    """

    monthly: tuple[float, ...]
    persistence: float = 0.3

    def __post_init__(self) -> None:
        holds("clear odds", len(self.monthly), len(self.monthly) == 12, "twelve monthly numbers")
        for odds in self.monthly:
            within("clear odds", odds, 0.0, 1.0)
        within("persistence", self.persistence, 0.0, 0.95)


@dataclass(frozen=True, slots=True)
class Guests:
    """Evenings on which guests come along: bright showpieces only, and an early finish.

    Attributes
    ----------
    evenings : When they come.
    people : How many.
    minutes_each : How long each looks at a target; a visit must be long enough for all. [min]
    finish : When the evening ends for them, local time; None leaves the evening's own finish.
    """

    evenings: frozenset[date] = frozenset()
    people: int = 8
    minutes_each: float = 1.0
    finish: time | None = None

    def __post_init__(self) -> None:
        whole("people", self.people, 1, 500)
        within("minutes_each", self.minutes_each, 0.2, 30.0)


@dataclass(frozen=True, slots=True)
class Club:
    """Nights that all observers share.

    Attributes
    ----------
    evenings : When; nights the plan keeps, for which going out costs nothing.
    site : Where, by the name of a site away; None at home.
    """

    evenings: frozenset[date] = frozenset()
    site: str | None = None


@dataclass(frozen=True)
class Scenario:
    """Everything a year's plan depends on.

    Whoever looks through an instrument is to see the target: the oldest eye among them counts. What the log
    of outcomes and a forecast say of the weather is weighed by `weather`; without them the clear odds stand.
    `site` is home; `trips` lead to other sites, on free evenings. One weather holds for all of them.
    """

    name: str
    site: Site
    kit: Kit
    season: Season
    availability: Availability
    clear_odds: ClearOdds
    targets: tuple[Target, ...]
    routine: Routine = field(default_factory=Routine)
    title: str = ""
    observers: tuple[Observer, ...] = (Observer(),)
    guests: Guests = field(default_factory=Guests)
    outcomes: OutcomeLog = field(default_factory=OutcomeLog)
    forecast: tuple[Forecast, ...] = ()
    trips: tuple[Trip, ...] = ()
    club: Club = field(default_factory=Club)

    def __post_init__(self) -> None:
        self._has_who_looks()
        self._has_sites_apart()
        named("scenario name", self.name)
        holds("wish-list", "empty", bool(self.targets), "at least one target")
        holds("wish-list", len(self.targets), len(self.targets) <= 20000, "at most 20000 targets")
        twice = [name for name, count in Counter(t.name for t in self.targets).items() if count > 1]
        holds("wish-list", ", ".join(twice), not twice, "every target once")
        for target in self.targets:
            known = target.instrument in (None, NAKED_EYE, BINOCULARS, TELESCOPE, *self.kit.instruments)
            holds("instrument", target.instrument, known, "an instrument of the kit")
            who = target.observer in (None, *(observer.name for observer in self.observers))
            holds("observer", target.observer, who, "an observer of the scenario")

    def _has_sites_apart(self) -> None:
        names = Counter([self.site.name, *(trip.site.name for trip in self.trips)])
        twice = [name for name, count in names.items() if count > 1]
        holds("site name", ", ".join(twice), not twice, "every site once")
        for trip in self.trips:
            same = trip.site.zone == self.site.zone
            holds("zone", trip.site.zone, same, f"the time zone of home, {self.site.zone}")
        known = self.club.site in (None, *(trip.site.name for trip in self.trips))
        holds("club site", self.club.site, known, "the name of a site away from home")

    def _has_who_looks(self) -> None:
        holds("observers", "none", bool(self.observers), "at least one observer")
        names = Counter(observer.name for observer in self.observers)
        twice = [name for name, count in names.items() if count > 1]
        holds("observer name", ", ".join(twice), not twice, "every observer once")
        for observer in self.observers:
            strange = [name for name in observer.instruments if name not in self.kit.instruments]
            holds("instruments", ", ".join(strange), not strange, "instruments of the kit")
