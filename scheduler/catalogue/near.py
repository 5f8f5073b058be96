"""Names that look like a misspelt one."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from difflib import SequenceMatcher

from .designation import key_of, printed

LOOKS_ALIKE = 0.6  # of difflib's ratio, its own default
LONGEST, CANDIDATES = 40, 8  # a list of 20 000 unknown names should still be told in seconds


class Near:
    """Finds names that look alike; a first sieve by shared pairs of letters keeps it under a millisecond."""

    def __init__(self, names: Iterable[str], keys: Mapping[str, str]) -> None:
        self.keys = keys
        self.names_by_key = {key_of(name): name for name in names}
        self.with_pair: dict[str, list[str]] = {}
        for key in self.names_by_key:
            for pair in _pairs(key):
                self.with_pair.setdefault(pair, []).append(key)

    def names(self, text: str) -> tuple[str, ...]:
        """Return up to three names that look like `text`, best first."""
        key = key_of(text)
        if found := re.fullmatch(r"([a-z]+)(\d+)", key):
            near = [printed(other) for other in _slips(found[1], found[2]) if other in self.keys]
            if names := tuple(dict.fromkeys(name for name in near if name)):
                return names[:3]
        key = key[:LONGEST]
        shared = Counter(other for pair in sorted(_pairs(key)) for other in self.with_pair.get(pair, ()))
        matcher = SequenceMatcher(None, b=key)  # it remembers its second text, so that one stays
        rated = []
        for other, _ in shared.most_common(CANDIDATES):
            matcher.set_seq1(other)
            if matcher.real_quick_ratio() >= LOOKS_ALIKE and (ratio := matcher.ratio()) >= LOOKS_ALIKE:
                rated.append((ratio, other))
        return tuple(self.names_by_key[other] for _, other in sorted(rated, reverse=True)[:3])


def _pairs(key: str) -> set[str]:
    return {key[i : i + 2] for i in range(len(key) - 1)}


def _slips(letters: str, digits: str) -> list[str]:
    """Return numbers one slip of the finger away: two digits swapped, or one too many."""
    swapped = [digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :] for i in range(len(digits) - 1)]
    dropped = [digits[:i] + digits[i + 1 :] for i in range(len(digits) - 1, -1, -1)]
    return [letters + number for number in (*swapped, *dropped) if number and number != digits]
