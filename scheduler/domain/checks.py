"""The checks nouns make of their own values on construction."""

from __future__ import annotations

import math

from ..errors import InvalidValue


def within(field: str, value: float, low: float, high: float) -> None:
    """Raise `InvalidValue` unless `value` is a finite number from `low` to `high`."""
    if not (math.isfinite(value) and low <= value <= high):
        raise InvalidValue(field, value, f"a number from {low:g} to {high:g}")


def whole(field: str, value: int, low: int, high: int) -> None:
    """Raise `InvalidValue` unless `value` is a whole number from `low` to `high`."""
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise InvalidValue(field, value, f"a whole number from {low} to {high}")


def named(field: str, value: str) -> None:
    """Raise `InvalidValue` unless `value` is a printable, non-blank text of at most 200 characters."""
    if not value.strip() or len(value) > 200 or not value.isprintable():
        raise InvalidValue(field, value, "a printable text of 1 to 200 characters")


def holds(field: str, value: object, condition: bool, expected: str) -> None:
    """Raise `InvalidValue` saying `expected` unless `condition` holds."""
    if not condition:
        raise InvalidValue(field, value, expected)
