"""The service under random kills: `python -m tests.benchmarks.kills KILLS SEED [sqlite|URL]`.

URL is a PostgreSQL server on which databases may be made; without it both are tried, the server being the one
that tests use.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

from tests.api.databases import KINDS, SERVER, fresh_database
from tests.api.kills import killed_again_and_again


def _main(kills: int, seed: int, where: str | None) -> int:
    if where not in (None, "sqlite"):
        os.environ[SERVER] = str(where)
    kinds = KINDS if where is None else ("sqlite",) if where == "sqlite" else ("postgresql",)
    faults = 0
    for kind in kinds:
        with tempfile.TemporaryDirectory() as kept, fresh_database(kind, Path(kept)) as database:
            told = killed_again_and_again(database, Path(kept), kills, seed, 2 if kind == "postgresql" else 0)
        print(f"{kind}, seed {seed}, {told}", *told.faults, sep="\n  ", flush=True)
        faults += len(told.faults)
    return min(faults, 1)


if __name__ == "__main__":
    sys.exit(_main(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3] if len(sys.argv) > 3 else None))
