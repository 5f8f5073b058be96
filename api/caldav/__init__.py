"""Pushing events into a calendar on somebody's server; it knows nothing of where things are kept."""

from __future__ import annotations

from .client import Calendar, Login
from .nouns import Conflict, Conflicts, Found, Item, Memory, Outcome, Pushed, Tally, There
from .pushing import Course, push
from .reach import PinnedTransport, Resolve, checked_address

__all__ = [
    "Calendar", "Conflict", "Conflicts", "Course", "Found", "Item", "Login", "Memory", "Outcome",
    "PinnedTransport", "Pushed", "Resolve", "Tally", "There", "checked_address", "push",
]  # fmt: skip
