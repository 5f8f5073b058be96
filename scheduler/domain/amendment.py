"""An amendment to a scenario: the question "what if" about a year."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, time

from .checks import holds, whole, within
from .kit import Observer
from .scenario import Availability, EveningRule, Scenario
from .target import Target

WEEKDAYS = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")


@dataclass(frozen=True, slots=True)
class Amendment:
    """What would be otherwise; what is None, nothing or empty stays as it is.

    Attributes
    ----------
    nights_per_week, nights_per_month : Most nights out.
    weekdays : Free as well, for all observers, at the times of the first rule; Monday = 0.
    start, finish : Evenings that start later start then, those that finish earlier finish then; local time.
    earlier_min, later_min : How much earlier evenings with a start of their own start, and how much later
        those with a finish of their own finish. [min]
    lowest_altitude_deg : Targets with a higher lowest altitude have this one. [deg]
    targets : Of these alone; none named means all.
    sky_brightness : Zenith sky on a moonless night. [mag/arcsec2]
    evenings : On these alone, as on a trip to a dark site; none named means all.
    """

    nights_per_week: int | None = None
    nights_per_month: int | None = None
    weekdays: tuple[int, ...] = ()
    start: time | None = None
    finish: time | None = None
    earlier_min: int = 0
    later_min: int = 0
    lowest_altitude_deg: float | None = None
    targets: tuple[str, ...] = ()
    sky_brightness: float | None = None
    evenings: tuple[date, ...] = ()

    def __post_init__(self) -> None:
        for name, most in (("nights_per_week", 7), ("nights_per_month", 31)):
            if getattr(self, name) is not None:
                whole(name, getattr(self, name), 1, most)
        for weekday in self.weekdays:
            whole("weekday", weekday, 0, 6)
        whole("earlier_min", self.earlier_min, 0, 1439)
        whole("later_min", self.later_min, 0, 1439)
        if self.lowest_altitude_deg is not None:
            within("lowest_altitude_deg", self.lowest_altitude_deg, 0.0, 85.0)
        holds("targets", ", ".join(self.targets), not self.targets or self.lowest_altitude_deg is not None,
              "none without a lowest_altitude_deg for them")  # fmt: skip
        holds("evenings", "some", not self.evenings or self.sky_brightness is not None,
              "none without a sky_brightness for them")  # fmt: skip

    def applied(self, scenario: Scenario) -> Scenario:
        """Return the scenario changed; a sky for some evenings alone is left aside.

        Raises
        ------
        InvalidValue
            A value is out of range, or a target is not on the wish-list.
        """
        unknown = set(self.targets) - {target.name for target in scenario.targets}
        holds("targets", ", ".join(sorted(unknown)), not unknown, "targets of the wish-list")
        site = scenario.site
        if self.sky_brightness is not None and not self.evenings:
            site = replace(site, sky_brightness=self.sky_brightness)
        return replace(
            scenario, site=site, availability=self._availability(scenario.availability),
            targets=tuple(self._target(target) for target in scenario.targets),
            observers=tuple(self._observer(observer) for observer in scenario.observers),
        )  # fmt: skip

    def _observer(self, given: Observer) -> Observer:
        return replace(given, weekdays=tuple(sorted({*given.weekdays, *self.weekdays})))

    def _availability(self, given: Availability) -> Availability:
        known = {weekday for rule in given.rules for weekday in rule.weekdays}
        more = tuple(sorted(set(self.weekdays) - known))
        first = given.rules[0]
        added = (EveningRule(more, first.start, first.finish),) if more else ()
        return replace(
            given, rules=tuple(self._rule(rule) for rule in (*given.rules, *added)),
            nights_per_week=self.nights_per_week or given.nights_per_week,
            nights_per_month=self.nights_per_month or given.nights_per_month,
        )  # fmt: skip

    def _rule(self, rule: EveningRule) -> EveningRule:
        start, finish = rule.start, rule.finish
        if start is not None:
            start = _clock(_after_noon_min(start) - self.earlier_min)
            start = min(start, self.start or start, key=_after_noon_min)
        if finish is not None:
            finish = _clock(_after_noon_min(finish) + self.later_min)
            finish = max(finish, self.finish or finish, key=_after_noon_min)
        return replace(rule, start=start, finish=finish)

    def _target(self, target: Target) -> Target:
        lowest_deg = self.lowest_altitude_deg
        mine = not self.targets or target.name in self.targets
        if lowest_deg is None or not mine or target.lowest_altitude_deg <= lowest_deg:
            return target
        return replace(target, lowest_altitude_deg=lowest_deg)

    @property
    def words(self) -> str:
        """The amendment in words, as in "Thursdays free too, nights under a sky of 21.8 mag/arcsec2"."""
        whose = f" for {', '.join(self.targets)}" if self.targets else ""
        when = f" on {', '.join(map(str, self.evenings))}" if self.evenings else ""
        days = " and ".join(WEEKDAYS[weekday] for weekday in self.weekdays)
        said = (
            (self.lowest_altitude_deg is not None, f"from {self.lowest_altitude_deg or 0.0:g}° up{whose}"),
            (bool(days), f"{days} free too"),
            (self.nights_per_week is not None, f"{self.nights_per_week} nights out a week"),
            (self.nights_per_month is not None, f"{self.nights_per_month} nights out a month"),
            (self.start is not None, f"out from {self.start:%H:%M}" if self.start else ""),
            (self.finish is not None, f"out until {self.finish:%H:%M}" if self.finish else ""),
            (bool(self.earlier_min), f"evenings that start {_lasting(self.earlier_min)} earlier"),
            (bool(self.later_min), f"evenings that finish {_lasting(self.later_min)} later"),
            (self.sky_brightness is not None, f"a sky of {self.sky_brightness} mag/arcsec2{when}"),
        )
        return ", ".join(words for asked, words in said if asked) or "no change"


def _after_noon_min(clock: time) -> int:
    return (clock.hour * 60 + clock.minute - 720) % 1440


def _clock(after_noon_min: int) -> time:
    """Return the time of the clock so long after noon, never past the next noon or before this one."""
    minute = (min(max(after_noon_min, 0), 1439) + 720) % 1440
    return time(minute // 60, minute % 60)


def _lasting(minutes: int) -> str:
    """Return a length of time in words.

    >>> _lasting(30), _lasting(60), _lasting(90), _lasting(45)
    ('half an hour', '1 h', '1.5 h', '45 min')
    """
    if minutes == 30:
        return "half an hour"
    return f"{minutes / 60:g} h" if minutes % 30 == 0 else f"{minutes} min"
