"""What the reader of a wish-list must be told about a name it looks up."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeAlias

from ..domain import Kind, Nature


class Known(Protocol):
    """A target as some catalogue knows it; any object with these attributes will do.

    Attributes
    ----------
    name : The designation asked for, in tidy spelling: "M 31" for "m31", "Jupiter" for "JUPITER".
    identity : One text for all names of one object, so that doubles in a wish-list show.
    kind, ra_deg, dec_deg, body, constellation, magnitude, size_arcmin, also_known_as, nature :
        As in `Target`.
    """

    @property
    def name(self) -> str: ...  # noqa: D102 (described above, as all of them)
    @property
    def identity(self) -> str: ...  # noqa: D102
    @property
    def kind(self) -> Kind: ...  # noqa: D102
    @property
    def ra_deg(self) -> float | None: ...  # noqa: D102
    @property
    def dec_deg(self) -> float | None: ...  # noqa: D102
    @property
    def body(self) -> str | None: ...  # noqa: D102
    @property
    def constellation(self) -> str | None: ...  # noqa: D102
    @property
    def magnitude(self) -> float | None: ...  # noqa: D102
    @property
    def size_arcmin(self) -> float | None: ...  # noqa: D102
    @property
    def also_known_as(self) -> str | None: ...  # noqa: D102
    @property
    def nature(self) -> Nature | None: ...  # noqa: D102


LookUp: TypeAlias = Callable[[str], Known]
"""Resolves a designation or raises `UnknownName` with near matches."""
