"""How long work reports on itself and is asked to stop."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Progress:
    """Where the work stands: its stage in words, the fraction done (0..1), best plan and bound so far."""

    stage: str
    fraction: float
    objective: float | None = None
    bound: float | None = None


class Report(Protocol):
    """Whoever wants to hear about progress."""

    def __call__(self, progress: Progress, /) -> None:
        """Take note of `progress`."""


class Cancel(Protocol):
    """Whoever may ask the work to stop; `threading.Event` is one."""

    def is_set(self) -> bool:
        """Tell whether the work should stop."""


class _Never:
    def is_set(self) -> bool:
        return False


never_cancelled: Cancel = _Never()


def ignore_progress(progress: Progress, /) -> None:
    """Take no note of `progress`."""


def part_of(report: Report, first: float, last: float) -> Report:
    """Return a report whose progress from 0 to 1 is `report`'s from `first` to `last`."""

    def pass_on(progress: Progress, /) -> None:
        report(replace(progress, fraction=first + (last - first) * progress.fraction))

    return pass_on
