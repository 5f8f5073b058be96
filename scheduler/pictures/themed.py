"""The looks of pictures within a page, in the page's own colours."""

from __future__ import annotations

import re
from collections.abc import Mapping

from .style import RULES

COLOURS = "ground", "ink", "quiet", "line", "fill", "mark", "night", "lit"
"""What a page must give a colour for."""


def themed(colours: Mapping[str, str]) -> str:
    """Return the stylesheet of pictures with other colours, for what stands inside a picture alone.

    Examples
    --------
    >>> print(themed(dict.fromkeys(COLOURS, "var(--ink)")).splitlines()[2])
    .picture .ground { fill: var(--ink); }
    """
    rules = RULES.substitute({name: colours[name] for name in COLOURS})
    return re.sub(r"^\.(?!picture\b)", ".picture .", rules, flags=re.MULTILINE)
