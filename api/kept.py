"""Scenarios read back from what is kept, and changed so that they can always be read."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import replace
from typing import Protocol, TypeVar

from scheduler.domain import Scenario
from scheduler.errors import DuskwrightError, InvalidValue, ScenarioFaults

from .companions import check_need, companions_of, need_of, with_calendars
from .deps import Services
from .errors import Stale, UnreadableClub
from .free_nights import EveningAsked, evenings_asked
from .log_csv import outcomes_csv
from .ports import PLAN_JSON, Door
from .seasons import today_at
from .settings import Settings, allowed_zone
from .storage import (
    ClubFile,
    NewOutcome,
    NewScenario,
    NewShared,
    Noun,
    ScenarioFiles,
    ScenarioRecord,
    SharedRecord,
    Uses,
)
from .toml_parts import with_announced, with_shared

MOST_TRIES = 5
HOME = "home"
"""Beside the nouns in `Uses`: the site one starts from."""

Result = TypeVar("Result")


class Reader(Protocol):
    """Reads scenarios, and knows how large they may be; the services of a running app are one."""

    @property
    def door(self) -> Door:
        """The scheduler's door."""

    @property
    def settings(self) -> Settings:
        """What is allowed."""


def read_kept(services: Services, scenario: str) -> Scenario:
    """Return a scenario as it stands, its log included."""
    record = services.storage.scenarios.get(scenario)
    files, _ = services.storage.scenarios.files(scenario)
    log = outcomes_csv(services.storage.outcomes.lines(scenario))
    return services.door.read_scenario(record.name, files, log)


def read_new(reader: Reader, name: str, files: ScenarioFiles, log: bytes = b"") -> NewScenario:
    """Return what is to be kept of these files, so that what is kept can be planned.

    Raises
    ------
    ScenarioFaults
        With everything wrong with them at once.
    InvalidValue
        The wish-list or the season is longer than this service takes, or the time zone is not on its list.
    """
    read = reader.door.read_scenario(name, files, log)
    settings = reader.settings
    for what, found, most in (("targets", len(read.targets), settings.most_targets),
                              ("season.nights", read.season.nights, settings.most_nights)):  # fmt: skip
        if found > most:
            raise InvalidValue(what, found, f"at most {most} at this service")
    if not allowed_zone(read.site.zone, settings):
        raise InvalidValue("site.zone", read.site.zone, "a time zone this service allows")
    return NewScenario(name, read.title, len(read.targets), read.season.start, read.season.nights, files)


def check_club(reader: Reader, club: ClubFile) -> None:
    """Read the scenarios of a club's file with their logs, and their plans, so that all of it can be used.

    Raises
    ------
    ScenarioFaults
        With everything wrong with the newest files of all scenarios at once.
    InvalidValue
        A scenario is more than this service takes.
    UnreadableClub
        A plan cannot be read.
    """
    faults = []
    for number, scenario in enumerate(club.scenarios):
        newest = scenario.revisions[-1]
        files = ScenarioFiles(newest.scenario_toml, newest.wish_list_csv, newest.forecast_csv)
        lines = [
            NewOutcome(**line.model_dump(exclude={"line", "logged", "key"})) for line in scenario.outcomes
        ]
        try:
            read_new(reader, scenario.name, files, outcomes_csv(lines))
        except ScenarioFaults as found:
            faults += [replace(one, file=f"scenarios/{number}/{one.file}") for one in found.faults]
        for place, plan in enumerate(scenario.plans):
            _check_plan(
                reader, f"scenarios/{number}/plans/{place}", {one.name: one.text for one in plan.files}
            )
    if faults:
        raise ScenarioFaults(tuple(faults))


def _check_plan(reader: Reader, where: str, files: Mapping[str, str]) -> None:
    try:
        reader.door.read_plan(files.get(PLAN_JSON, ""))
    except (DuskwrightError, ValueError) as error:
        raise UnreadableClub(f"{where}/files", f"a {PLAN_JSON} as this service writes it") from error


def changed(
    services: Services,
    scenario: str,
    expected: Set[int] | None,
    edit: Callable[[ScenarioFiles], ScenarioFiles],
    name: str | None = None,
    uses: Uses | None = None,
) -> ScenarioRecord:
    """Make the next revision of a scenario from its files as they stand, read together with its log.

    Raises
    ------
    Stale
        Its revision is not `expected`.
    ScenarioFaults, InvalidValue
        As `read_new`; nothing has been changed.
    """

    def once() -> ScenarioRecord:
        record = services.storage.scenarios.get(scenario)
        if expected is not None and record.revision not in expected:
            raise Stale(record.tag)
        files, _ = services.storage.scenarios.files(scenario, record.revision)
        lines = services.storage.outcomes.lines(scenario)
        new = read_new(services, name or record.name, edit(files), outcomes_csv(lines))
        these = frozenset({record.revision})
        return services.storage.scenarios.replace(scenario, new, these, uses, log_lines=len(lines))

    return tried_again(once, lambda: _is_still(services, scenario, expected))


def taken_over(services: Services, scenario: str, uses: Uses, expected: Set[int] | None) -> ScenarioRecord:
    """Let a scenario take over what it uses of its club, now and whenever it is planned.

    Raises
    ------
    Stale
        Its revision is not `expected`.
    NoSuch
        Its club has not all of it.
    ScenarioFaults, InvalidValue
        As `read_new`; nothing has been changed.
    """
    club = services.storage.scenarios.get(scenario).club

    def edit(files: ScenarioFiles) -> ScenarioFiles:
        return _composed(services, club, files, uses, all_of_them=True)

    return changed(services, scenario, expected, edit, uses=uses)


def brought_up_to_date(services: Services, scenario: str) -> None:
    """Take over again what a scenario uses of its club, and what its calendar has announced.

    Where that is something new, the scenario has a new revision then.
    """

    def once() -> None:
        record = services.storage.scenarios.get(scenario)
        if not any(record.uses.values()):
            return

        def edit(files: ScenarioFiles) -> ScenarioFiles:
            return _composed(services, record.club, files, record.uses)

        files, _ = services.storage.scenarios.files(scenario, record.revision)
        if edit(files) != files:
            changed(services, scenario, frozenset({record.revision}), edit)

    tried_again(once, lambda: True)
    announced_kept(services, scenario)


def announced_kept(services: Services, scenario: str) -> None:
    """Let a scenario know the nights its calendar has announced, so that a new plan lets them stand.

    Nights that have come near since are announced first.
    """
    storage = services.storage
    files, _ = storage.scenarios.files(scenario)
    today = today_at(files.scenario_toml, storage.now())
    storage.calendars.announce(scenario, today)
    evenings = [one.evening for one in storage.entries.not_carried(scenario, today)]
    if not evenings:
        return

    def edit(files: ScenarioFiles) -> ScenarioFiles:
        return replace(files, scenario_toml=with_announced(files.scenario_toml, evenings))

    changed(services, scenario, None, edit)
    storage.entries.carry(scenario, evenings)


def tried_again(once: Callable[[], Result], worth_it: Callable[[], bool]) -> Result:
    """Do something that another's change in between makes stale, a few times if need be."""
    for _ in range(MOST_TRIES - 1):
        try:
            return once()
        except Stale:
            if not worth_it():
                raise
    return once()


def _is_still(services: Services, scenario: str, expected: Set[int] | None) -> bool:
    return expected is None or services.storage.scenarios.get(scenario).revision in expected


def evenings_of(
    services: Services, scenario: str, members: Sequence[str] | None, need: str | None
) -> list[EveningAsked]:
    """Return the evenings a scenario leaves free, and who of some members is free then.

    Parameters
    ----------
    members : Whom it is asked of; those the scenario uses where None.
    need : "any", "all" or how many must be free; as the scenario has it, else any, where None.

    Raises
    ------
    NoSuch
        Its club has not all of them.
    InvalidValue
        There is nobody to ask, or fewer than are needed.
    """
    record = services.storage.scenarios.get(scenario)
    files, _ = services.storage.scenarios.files(scenario, record.revision)
    asked = list(dict.fromkeys(record.uses.get(Noun.MEMBER, ()) if members is None else members))
    found = services.storage.shared[Noun.MEMBER].several(record.club, asked, all_of_them=members is not None)
    wanted = need or need_of(record.uses) or "any"
    check_need(wanted, len(found))
    plain = with_shared(files.scenario_toml, {Noun.MEMBER: _plainly(found)}, None)
    read = services.door.read_scenario(record.name, replace(files, scenario_toml=plain))
    return evenings_asked(read, companions_of(services, read, found), wanted)


def _composed(
    services: Services, club: str, files: ScenarioFiles, uses: Uses, *, all_of_them: bool = False
) -> ScenarioFiles:
    """Return the files with what they use of the club in scenario.toml; what it has no more stays there.

    Where calendars count, members do not come along on evenings they are busy.
    """

    def known(noun: Noun, ids: Sequence[str]) -> tuple[SharedRecord, ...]:
        return services.storage.shared[noun].several(club, ids, all_of_them=all_of_them)

    members = known(Noun.MEMBER, uses.get(Noun.MEMBER, ()))
    shared = {noun: _plainly(known(noun, uses.get(noun.value, ()))) for noun in (Noun.SITE, Noun.TELESCOPE)}
    home = _plainly(known(Noun.SITE, uses.get(HOME, ())))

    def with_members(those: Sequence[NewShared]) -> ScenarioFiles:
        tables = {Noun.MEMBER: those, **shared}
        return replace(
            files, scenario_toml=with_shared(files.scenario_toml, tables, home[0] if home else None)
        )

    composed, need = with_members(_plainly(members)), need_of(uses)
    if need is None or not members:
        return composed
    read = services.door.read_scenario("composed", composed)
    return with_members(with_calendars(services, read, members, need))


def _plainly(found: Sequence[SharedRecord]) -> list[NewShared]:
    return [NewShared(one.name, one.settings) for one in found]
