"""Every kind of problem the service answers with: one entry for each error.

References
----------
R. Fielding, M. Nottingham, J. Reschke, "HTTP Semantics", RFC 9110, 2022, section 15.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException

from scheduler.errors import (
    Cancelled,
    InvalidValue,
    OutsideEphemeris,
    PlanRejected,
    ScenarioFaults,
    UnknownName,
    UnreadablePlan,
)

from . import calendar_errors, errors
from .caldav.errors import (
    CalendarBusy,
    CalendarRefused,
    CalendarUnreachable,
    HostNotAllowed,
    NotACalendar,
)


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem: its name in the `type` address, HTTP status, title, and what to do about it."""

    name: str
    status: int
    title: str
    advice: str

    @property
    def type(self) -> str:
        """Address of the kind; it can be read at this service."""
        return f"/problems/{self.name}"

    def advice_on(self, problem: Mapping[str, Any]) -> str:
        """Return the advice for a reader of one problem: members that it names are told by their values.

        Examples
        --------
        >>> kind = Kind("not-allowed", 403, "Not so", "Ask for a key of the role `needed`; see `errors`.")
        >>> kind.advice_on({"needed": "owner", "errors": []})
        'Ask for a key of the role owner; see `errors`.'
        """

        def told(found: re.Match[str]) -> str:
            value = problem.get(found[1])
            return str(value) if isinstance(value, str | int | float) else found[0]

        return re.sub(r"`(\w+)`", told, self.advice)


KINDS: Mapping[type[Exception], Kind] = {
    ScenarioFaults: Kind(
        "scenario-faults", 422, "The scenario cannot be read",
        "Mend every entry of `errors`: each names file, row and column, what stands there and what may."),
    InvalidValue: Kind(
        "invalid-value", 422, "A value cannot be used", "See `errors` for what was expected."),
    UnknownName: Kind(
        "unknown-name", 422, "No target is known by this name", "`near` lists names that look alike."),
    OutsideEphemeris: Kind(
        "outside-ephemeris", 422, "The date is outside the ephemeris",
        "Choose a season between `first` and `last`."),
    PlanRejected: Kind(
        "plan-rejected", 500, "The plan broke its own rules",
        "A fault of the service, not of the request: please report it with the scenario."),
    UnreadablePlan: Kind(
        "unreadable-plan", 500, "A stored plan cannot be read", "Plan the scenario anew."),
    Cancelled: Kind(
        "cancelled", 409, "The work was cancelled", "Start it anew when wanted."),
    errors.NoSuch: Kind(
        "no-such-thing", 404, "Nothing is kept under this id", "Check the id; it may have been deleted."),
    errors.Stale: Kind(
        "stale", 412, "It has changed since you read it",
        "Read it again, repeat your change on the new version and send its entity tag."),
    errors.PreconditionMissing: Kind(
        "precondition-missing", 428, "Say which version you are changing",
        "Send the entity tag you read in the If-Match header."),
    errors.StillAtWork: Kind(
        "still-at-work", 409, "A job is still at work", "Cancel the `job` or wait for its end."),
    errors.AlreadyEnded: Kind(
        "already-ended", 409, "The job has already ended", "There is nothing left to cancel."),
    errors.KeyReused: Kind(
        "key-reused", 422, "The Idempotency-Key was used for another request",
        "Send a fresh key with every new request."),
    errors.LoggedMeanwhile: Kind(
        "logged-meanwhile", 409, "The night has been logged meanwhile",
        "Read line `line` of the log, and send yours again over it if it is the better one."),
    errors.TooManyJobs: Kind(
        "too-many-jobs", 429, "Too many jobs are waiting", "Try again later."),
    errors.TooManyRequests: Kind(
        "too-many-requests", 429, "Too many requests", "Wait for the seconds of the Retry-After header."),
    errors.WrongMediaType: Kind(
        "wrong-media-type", 415, "The body is of the wrong type", "Send the type named in `expected`."),
    errors.WrongHost: Kind(
        "wrong-host", 421, "The request was meant for another host",
        "Use the address the service told when it started."),
    errors.ForeignOrigin: Kind(
        "foreign-origin", 403, "Pages of other sites may not change anything here",
        "Send the request from the command line or from the service's own pages."),
    errors.Interrupted: Kind(
        "interrupted", 503, "The service stopped while the job was at work", "Start it anew."),
    errors.NotReady: Kind(
        "not-ready", 503, "The service is not ready", "Try again in a moment."),
    errors.OutOfTime: Kind(
        "out-of-time", 422, "The work took too long",
        "Ask for fewer seconds or fewer years, or shorten the season or the wish-list."),
    errors.OutOfMemory: Kind(
        "out-of-memory", 422, "The work needed too much memory",
        "Shorten the season or the wish-list, or let jobs have more memory in the settings."),
    errors.WorkCrashed: Kind(
        "work-crashed", 500, "The work broke down",
        "A fault of the service, not of the request: start it anew, and report it if it happens again."),
    errors.WorkFailed: Kind(
        "work-failed", 500, "The work failed",
        "A fault of ours: `reference` names the entry in the service's log."),
    errors.DiskFull: Kind(
        "disk-full", 507, "There is no room left",
        "Whoever runs the service must make room; what was kept before is whole."),
    errors.AlreadyKept: Kind(
        "already-kept", 409, "It is kept already", "Choose another name, or change the one that is there."),
    errors.KeyNeeded: Kind(
        "key-needed", 401, "A key is needed",
        "Send one that still counts, as in: Authorization: Bearer KEY. An owner of the club can make one."),
    errors.NotAllowed: Kind(
        "not-allowed", 403, "The key may not do this",
        "Ask an owner of the club for a key of the role `needed`."),
    errors.UnreadableClub: Kind(
        "unreadable-club", 422, "The club's file cannot be taken in",
        "Send a file as `GET /clubs/{club}/export` gives it, unchanged; `where` names what is wrong."),
    errors.NoSealKey: Kind(
        "no-seal-key", 503, "Secrets of others cannot be kept here",
        "Whoever runs the service must give it a key to seal them with."),
    errors.SealBroken: Kind(
        "seal-broken", 409, "A kept secret cannot be opened", "Enter the password or address again."),
    CalendarUnreachable: Kind(
        "calendar-unreachable", 502, "The calendar server cannot be reached",
        "Check the address; push again later, which goes on where this push ended."),
    CalendarRefused: Kind(
        "calendar-refused", 502, "The calendar server refused the request",
        "Check username and password, and that they may write there."),
    CalendarBusy: Kind(
        "calendar-busy", 503, "The calendar server has no time or no room",
        "Push again later, which goes on where this push ended."),
    NotACalendar: Kind(
        "not-a-calendar", 502, "There is no calendar to push to",
        "Give the address of the calendar itself, as its server shows it for calendar programs."),
    HostNotAllowed: Kind(
        "host-not-allowed", 422, "The calendar server may not be reached from here",
        "Give an address this service may reach, or ask who runs it to let it."),
    calendar_errors.CalendarFaults: Kind(
        "calendar-faults", 422, "The calendar cannot be read",
        "Mend every entry of `errors`: each names the component, the property and what may stand there."),
    calendar_errors.CalendarTooHard: Kind(
        "calendar-too-hard", 422, "The calendar takes too much to read",
        "Leave out what is past, and rules that have gone on for long."),
    calendar_errors.AddressRefused: Kind(
        "address-refused", 422, "Nothing is fetched from this address",
        "Give the public https address your calendar's provider names, or upload the calendar."),
    calendar_errors.NotFetched: Kind(
        "not-fetched", 502, "The address gave no calendar",
        "See whether the address still counts, or try again later."),
    calendar_errors.NoAddress: Kind(
        "no-address", 409, "The calendar has no address", "Upload it again instead."),
    errors.DatabaseUnusable: Kind(
        "database-unusable", 503, "The database cannot be used", "Whoever runs the service must see to it."),
    RequestValidationError: Kind(
        "invalid-request", 422, "The request cannot be used",
        "`errors` lists every part of it that is missing or wrong."),
}  # fmt: skip

BY_STATUS: Mapping[int, Kind] = {
    400: Kind(
        "malformed-request", 400, "The request cannot be read",
        "The body is damaged or not of its stated type."),
    404: Kind(
        "no-such-address", 404, "There is nothing at this address", "See /docs for every address."),
    405: Kind(
        "wrong-method", 405, "This address does not answer to that method",
        "The Allow header names those it answers to."),
    408: Kind(
        "body-too-slow", 408, "The body came too slowly", "Send it again, at one go."),
    413: Kind(
        "body-too-large", 413, "The body is too large", "Send a smaller one."),
    500: Kind(
        "internal-error", 500, "The service failed",
        "A fault of ours: `instance` names the entry in the service's log."),
}  # fmt: skip


def all_kinds() -> tuple[Kind, ...]:
    """Return every kind of problem this service answers with, by name."""
    return tuple(sorted([*KINDS.values(), *BY_STATUS.values()], key=lambda kind: kind.name))


def kind_of(error: Exception) -> Kind:
    """Return the kind of problem `error` is; what nobody foresaw is an internal error."""
    if isinstance(error, HTTPException):
        return BY_STATUS.get(error.status_code) or _plain_kind(error.status_code)
    if isinstance(error, RequestValidationError) and is_unreadable_json(error):
        return BY_STATUS[400]
    return next((KINDS[base] for base in type(error).__mro__ if base in KINDS), BY_STATUS[500])


def is_unreadable_json(error: RequestValidationError) -> bool:
    """Tell whether the body was no JSON at all."""
    return any(entry["type"] == "json_invalid" for entry in error.errors())


def _plain_kind(status: int) -> Kind:
    return Kind("other", status, HTTPStatus(status).phrase, "")
