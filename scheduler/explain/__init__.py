"""Questions about a year's plan, answered by working it out again, never by a guess.

`why_then` and `why_not` ask about one target, `season_prices` about nights and months, `what_if` about a
change to the scenario.
"""

from __future__ import annotations

from .what_if import what_if
from .why_not import why_not
from .why_then import why_then
from .worth import season_prices

__all__ = ["season_prices", "what_if", "why_not", "why_then"]
