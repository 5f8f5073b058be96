"""What can go wrong in the service, and how every error becomes one kind of answer: an RFC 9457 problem.

::

    DuskwrightError
    ├── (the scheduler's own, see scheduler.errors)
    └── ServiceError
        ├── NoSuch               nothing is kept under this id: noun, id
        ├── Stale                someone else changed it first: current
        ├── PreconditionMissing  a change without If-Match
        ├── StillAtWork          a scenario whose job has not ended: job
        ├── VersionTaken         another plan of the scenario got this version first: version
        ├── CalendarMoved        another plan was published first
        ├── AlreadyEnded         a job that cannot be cancelled any more: job, state
        ├── KeyReused            an Idempotency-Key seen before with another request: key
        ├── LoggedMeanwhile      a night whose line in the log is another by now: evening, line
        ├── TooManyJobs          the queue is full: limit
        ├── WrongMediaType       a body of another type than asked for: read, expected
        ├── WrongHost            a request meant for another host: read
        ├── ForeignOrigin        a change asked for by another site's page: origin
        ├── Interrupted          the service stopped while a job was at work
        ├── NotReady             the service cannot do its work now: reason
        ├── OutOfTime            a job took longer than one may: minutes
        ├── OutOfMemory          a job needed more memory than one may: megabytes
        ├── WorkCrashed          the process doing a job died: signal
        ├── WorkFailed           a job met an error nobody foresaw: reference
        ├── DiskFull             nothing more can be kept
        ├── AlreadyKept          an imported club, or a name, that is there already: noun, name
        ├── KeyNeeded            a key is needed and none, or none that counts, was sent: reason
        ├── NotAllowed           the key's role is too low: role, needed
        ├── UnreadableClub       a club's file that cannot be taken in: where, expected
        ├── TooManyRequests      a caller asks too often: retry_after_s
        ├── SettingsFaults       everything wrong with the settings, all at once
        ├── NoSealKey            nothing can be sealed: reason
        ├── SealBroken           a kept secret that cannot be opened
        ├── (of other calendars, see api.caldav.errors:)
        ├── CalendarUnreachable  a calendar server did not answer: host, reason
        ├── CalendarRefused      a calendar server refused us: host, answered
        ├── CalendarBusy         a calendar server asks us to come later: host, answered, retry_after_s
        ├── NotACalendar         a calendar server, but no calendar we can push to: host, reason
        ├── HostNotAllowed       a host this service may not reach, or not in this way: host, reason
        ├── (calendars of members, see calendar_errors)
        └── DatabaseUnusable     the file is not a database this version reads: path, reason
"""

from __future__ import annotations

from datetime import date

from scheduler.errors import DuskwrightError, Fault


class ServiceError(DuskwrightError):
    """Root of the service's own errors; what each carries becomes members of its problem."""


class NoSuch(ServiceError, LookupError):
    """Nothing is kept under this id."""

    def __init__(self, noun: str, id: str) -> None:  # noqa: A002 - the member's name in the problem
        self.noun, self.id = noun, id
        super().__init__(f"there is no {noun} {id[:80]!r}")


class Stale(ServiceError):
    """Someone else changed it first; `current` is its entity tag now."""

    def __init__(self, current: str) -> None:
        self.current = current
        super().__init__(f"it has been changed since you read it; its entity tag is now {current}")


class PreconditionMissing(ServiceError):
    """A change must say which version it changes."""

    def __init__(self) -> None:
        super().__init__("send the entity tag you read as If-Match, so that no one's change is lost")


class StillAtWork(ServiceError):
    """A scenario cannot go while one of its jobs is unfinished."""

    def __init__(self, job: str) -> None:
        self.job = job
        super().__init__(f"job {job} is still at work on this scenario; cancel it or wait for its end")


class VersionTaken(ServiceError):
    """Another plan of the scenario got this version first; never leaves the service."""

    def __init__(self, version: int) -> None:
        self.version = version
        super().__init__(f"version {version} is taken")


class CalendarMoved(ServiceError):
    """The calendar shows another plan than the one this was held against; never leaves the service."""

    def __init__(self) -> None:
        super().__init__("another plan was published meanwhile")


class AlreadyEnded(ServiceError):
    """A job that has ended cannot be cancelled."""

    def __init__(self, job: str, state: str) -> None:
        self.job, self.state = job, state
        super().__init__(f"job {job} has already ended: {state}")


class KeyReused(ServiceError):
    """An Idempotency-Key came back with another request."""

    def __init__(self, key: str) -> None:
        self.key = key
        super().__init__("this Idempotency-Key was used before for another request")


class LoggedMeanwhile(ServiceError):
    """Line `line` of the log stands for the night, which whoever wrote this one did not know."""

    def __init__(self, evening: date, line: int) -> None:
        self.evening, self.line = evening, line
        super().__init__(f"the log has another line for the night of {evening} by now, line {line}")


class TooManyJobs(ServiceError):
    """The queue is full."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        super().__init__(f"{limit} jobs are waiting or at work already; try again later")


class WrongMediaType(ServiceError):
    """The body is of another type than asked for."""

    def __init__(self, read: str, expected: str) -> None:
        self.read, self.expected = read, expected
        super().__init__(f"read a body of type {read[:80]!r}, expected {expected}")


class WrongHost(ServiceError):
    """The request names another host than this service serves."""

    def __init__(self, read: str) -> None:
        self.read = read
        super().__init__(f"this service does not answer for the host {read[:80]!r}")


class ForeignOrigin(ServiceError):
    """A page of another site asked for a change."""

    def __init__(self, origin: str) -> None:
        self.origin = origin
        super().__init__(f"pages of {origin[:80]!r} may not change anything here")


class Interrupted(ServiceError):
    """The service stopped while the job was unfinished; nothing of it was kept."""

    def __init__(self) -> None:
        super().__init__(
            "the service stopped before this job ended; nothing of it was kept, so start it anew"
        )


class NotReady(ServiceError):
    """The service cannot do its work now.

    Anybody may be told the `reason`; the words of what led to it, which may name addresses, are for who runs
    the service: they stand in this error's own words, which the log tells.
    """

    def __init__(self, reason: str, cause: str = "") -> None:
        self.reason = reason
        super().__init__(f"{reason}: {cause}" if cause else reason)


class OutOfTime(ServiceError):
    """The work took longer than a job may, and was stopped; nothing of it was kept."""

    def __init__(self, minutes: float) -> None:
        self.minutes = minutes
        super().__init__(f"the work was not done after {minutes:g} minutes, the longest a job may take")


class OutOfMemory(ServiceError):
    """The work needed more memory than a job may, and was stopped; nothing of it was kept."""

    def __init__(self, megabytes: int) -> None:
        self.megabytes = megabytes
        super().__init__(f"the work needed more than {megabytes} MB, the most a job may")


class WorkCrashed(ServiceError):
    """The process that did the work died; nothing of it was kept."""

    def __init__(self, signal: str) -> None:
        self.signal = signal
        super().__init__(f"the process that did the work died ({signal})")


class WorkFailed(ServiceError):
    """The work met an error nobody foresaw; the log tells it under `reference`."""

    def __init__(self, reference: str) -> None:
        self.reference = reference
        super().__init__(f"the work failed; the service's log tells why under {reference}")


class DiskFull(ServiceError):
    """The database has no room; what was asked was not kept, and what is kept is whole."""

    def __init__(self) -> None:
        super().__init__("there is no room left where the database is kept; nothing of this request was kept")


class AlreadyKept(ServiceError):
    """Something of this id or name is kept already."""

    def __init__(self, noun: str, name: str) -> None:
        self.noun, self.name = noun, name
        super().__init__(f"there is a {noun} {name[:80]!r} already")


class KeyNeeded(ServiceError):
    """No key came with the request, or none that counts."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)

    @property
    def words(self) -> str:
        """The reason as a sentence."""
        return f"{self.reason[:1].upper()}{self.reason[1:]}."


class NotAllowed(ServiceError):
    """The key's role is too low for this."""

    def __init__(self, role: str, needed: str) -> None:
        self.role, self.needed = role, needed
        super().__init__(f"this needs the role {needed}; your key's is {role}")


class UnreadableClub(ServiceError):
    """A club's file that cannot be taken in."""

    def __init__(self, where: str, expected: str) -> None:
        self.where, self.expected = where, expected
        super().__init__(f"{where}: expected {expected}")


class TooManyRequests(ServiceError):
    """A caller asks too often, or was refused too often."""

    def __init__(self, retry_after_s: int) -> None:
        self.retry_after_s = retry_after_s
        super().__init__(f"too many requests; ask again in {retry_after_s} s")


class SettingsFaults(ServiceError):
    """The service cannot be set up like this; `faults` names every place and its remedy. Never sent."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n".join([f"{count} in the settings:", *map(str, faults)]))


class NoSealKey(ServiceError):
    """Secrets of others cannot be kept, for the service was given no key to seal them with."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(f"secrets cannot be kept: {reason}; `duskwright club seal-key` makes a key")


class SealBroken(ServiceError):
    """A kept secret was sealed with another key."""

    def __init__(self) -> None:
        super().__init__("a kept secret was sealed with a key this service no longer has; enter it again")


class DatabaseUnusable(ServiceError):
    """The file is no database this version can read and write."""

    def __init__(self, path: str, reason: str) -> None:
        self.path, self.reason = path, reason
        super().__init__(f"cannot use the database {path}: {reason}")
