"""Work with the stand-in planner: `python -m tests.api.jobs.work_stand_in DATABASE FOLDER WORKERS`."""

from __future__ import annotations

import sys
from pathlib import Path

from api.settings import Settings

from ..stand_ins import StandInPlanner


def _main(database: str, folder: str, workers: str) -> None:
    from api.worker import work  # not at the top: children import this module too

    settings = Settings(database=database, workers=int(workers))
    work(settings, door=StandInPlanner(Path(folder)).door, announce=lambda told: print(told, flush=True))


if __name__ == "__main__":
    _main(*sys.argv[1:])
