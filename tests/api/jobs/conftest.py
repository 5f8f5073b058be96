from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ..conftest import Ready
from ..databases import KINDS, Where, fresh_database


@pytest.fixture(params=KINDS)
def database(request: pytest.FixtureRequest, tmp_path: Path, ready: Ready) -> Iterator[Where]:
    """A database of each kind in turn, of the newest format, with nothing kept in it."""
    with fresh_database(request.param, tmp_path, ready(request.param)) as where:
        yield where
