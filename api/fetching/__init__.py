"""Fetching calendars from elsewhere; see `fetching` for what keeps that safe."""

from __future__ import annotations

from .fetching import Fetching, checked_address
from .pinned import resolved
from .public import is_public

__all__ = ["Fetching", "checked_address", "is_public", "resolved"]
