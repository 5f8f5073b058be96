"""What one part of a job hands to the next: text, made small, for the workflow library keeps all of it."""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Mapping
from typing import Any


def packed(things: Mapping[str, Any]) -> str:
    """Return plain things as short text.

    Examples
    --------
    >>> unpacked(packed({"plan": "x" * 10_000, "years": 200}))["years"]
    200
    >>> len(packed({"plan": "x" * 10_000})) < 100
    True
    """
    return base64.b85encode(zlib.compress(json.dumps(things).encode(), level=6)).decode()


def unpacked(text: str) -> Any:
    """Return what `packed` was given."""
    return json.loads(zlib.decompress(base64.b85decode(text)))
