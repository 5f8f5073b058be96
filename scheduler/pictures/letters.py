"""Text that may stand in a picture, whoever wrote it."""

from __future__ import annotations

import unicodedata
from html import escape

BROAD_EM = 0.58
"""Room taken for a letter, in font sizes: broader than the mean of common fonts (our judgement). [em]"""

_UNSEEN = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff\ufffe\uffff"
)
"""Marks that turn the direction of writing, and what is no character."""


def clean(text: str) -> str:
    r"""Return a text without what XML 1.0 does not allow, without control characters and turns of direction.

    References
    ----------
    Bray, T., et al. (2008). Extensible Markup Language (XML) 1.0, fifth edition, W3C, production 2 (Char).

    Examples
    --------
    >>> clean("M 42\x00\u202e\n now")
    'M 42 now'
    """
    kept = (" " if letter in "\t\n\r" else letter for letter in text if letter not in _UNSEEN)
    return " ".join(
        "".join(letter for letter in kept if unicodedata.category(letter) not in {"Cc", "Cs", "Cn"}).split()
    )


def written(text: str) -> str:
    """Return a text as it may stand between tags and in attributes: cleaned and escaped."""
    return escape(clean(text), quote=True)


def width_of(text: str, size: float) -> float:
    """Return the room to keep for a text, in the units of its font size."""
    return len(text) * BROAD_EM * size


def fitted(text: str, width: float, size: float) -> str:
    """Return a text cut, with an ellipsis, to what fits into a width.

    >>> fitted("Great Orion Nebula", 60.0, 10.0)
    'Great Orio…'
    """
    text, most = clean(text), max(2, int(width / (BROAD_EM * size) + 1))
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
