"""Many requests made up from the description: `python -m tests.benchmarks.contract CASES SEED [sqlite|URL]`.

A PostgreSQL URL names an empty database. Told are the statuses, and everything nothing explains.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.api.contract import contracted, tried


def main(cases: int, seed: int, database: str = "sqlite") -> int:
    """Print what came of it; return how many answers nothing explains."""
    began_s = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder) / "kept.sqlite3" if database == "sqlite" else database
        with contracted(where, Path(folder)) as (app, token):
            told = tried(app, token, cases, seed)
    for fault in told.unexplained[:50]:
        print(fault, end="\n\n")
    never = [name for name, statuses in told.by_operation.items() if min(statuses) >= 400]
    print(f"{told.cases} requests in {time.monotonic() - began_s:.0f} s: {dict(told.by_phase)}")
    print(f"statuses {dict(sorted(told.statuses.items()))}; without any success: {never}")
    print(f"{len(told.unexplained)} unexplained")
    return len(told.unexplained)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2]), *sys.argv[3:4]) > 0)
