"""What can go wrong with a member's own calendar; none of it tells what stands there, nor where it lies.

::

    ServiceError
    ├── CalendarFaults       everything wrong with a member's own calendar, all at once
    ├── CalendarTooHard      a calendar that takes too much to read: reason
    ├── AddressRefused       an address nothing is fetched from: host, reason
    ├── NotFetched           an address that gave no calendar: host, reason
    └── NoAddress            a calendar that was uploaded, and so cannot be fetched again
"""

from __future__ import annotations

from dataclasses import dataclass

from .errors import ServiceError


@dataclass(frozen=True, slots=True)
class CalendarFault:
    """One thing wrong in a calendar, and what would put it right; never what stands there, which is private.

    Attributes
    ----------
    component : Counts the components of the file from 1, by their BEGIN; None for the file as a whole.
    property : Name of the property; None for the component as a whole.
    expected : What may stand there.
    """

    component: int | None
    property: str | None
    expected: str

    def __str__(self) -> str:
        where = "the calendar" if self.component is None else f"component {self.component}"
        return f"{where}{f', {self.property}' if self.property else ''}: expected {self.expected}"


class CalendarFaults(ServiceError):
    """A member's own calendar cannot be read; `faults` lists what is wrong with it at once."""

    def __init__(self, faults: tuple[CalendarFault, ...]) -> None:
        self.faults = faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n".join([f"{count} in the calendar:", *map(str, faults)]))


class CalendarTooHard(ServiceError):
    """Reading a calendar took more time or memory than it may; nothing of it was kept."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)


class AddressRefused(ServiceError):
    """Nothing is fetched from this address. Only its host is told: the rest of it is a secret."""

    def __init__(self, host: str, reason: str) -> None:
        self.host, self.reason = host[:80], reason
        super().__init__(f"nothing is fetched from {self.host!r}: {reason}")


class NotFetched(ServiceError):
    """An address gave no calendar. Only its host is told: the rest of it is a secret."""

    def __init__(self, host: str, reason: str) -> None:
        self.host, self.reason = host[:80], reason
        super().__init__(f"no calendar came from {self.host!r}: {reason}")


class NoAddress(ServiceError):
    """The calendar was uploaded: there is no address to fetch it from again."""

    def __init__(self) -> None:
        super().__init__("this calendar has no address; upload it again instead")
