"""What can go wrong with calendars elsewhere: hosts are named, never what else an address holds."""

from __future__ import annotations

from ..errors import ServiceError


class CalendarUnreachable(ServiceError):
    """A calendar server did not answer, or its answer was cut off; nothing is known of the last write."""

    def __init__(self, host: str, reason: str) -> None:
        self.host, self.reason = host, reason
        super().__init__(f"the calendar server {host} cannot be reached: {reason}")


class CalendarRefused(ServiceError):
    """A calendar server refused what was asked; `answered` is the HTTP status it gave."""

    def __init__(self, host: str, answered: int) -> None:
        self.host, self.answered = host, answered
        told = "does not take this username and password" if answered == 401 else "refused the request"
        super().__init__(f"the calendar server {host} {told} (HTTP status {answered})")


class CalendarBusy(ServiceError):
    """A calendar server has no time or no room now; `retry_after_s` is when it asked us to come again."""

    def __init__(self, host: str, answered: int, retry_after_s: int | None) -> None:
        self.host, self.answered, self.retry_after_s = host, answered, retry_after_s
        told = "has no room" if answered == 507 else "is too busy"
        again = "" if retry_after_s is None else f"; it asks to come again after {retry_after_s} s"
        super().__init__(f"the calendar server {host} {told} (HTTP status {answered}){again}")


class NotACalendar(ServiceError):
    """There is no calendar at this address that events can be pushed into safely."""

    def __init__(self, host: str, reason: str) -> None:
        self.host, self.reason = host, reason
        super().__init__(f"no calendar to push to on {host}: {reason}")


class HostNotAllowed(ServiceError):
    """A host that this service may not reach, or not in this way."""

    def __init__(self, host: str, reason: str) -> None:
        self.host, self.reason = host, reason
        super().__init__(f"calendars on {host} cannot be pushed to: {reason}")
