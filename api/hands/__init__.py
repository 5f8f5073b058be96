"""Who does heavy work: child processes, or this very process in tests."""

from __future__ import annotations

from .inline import InlineHands
from .limits import Limits
from .process import ProcessHands

__all__ = ["InlineHands", "Limits", "ProcessHands"]
