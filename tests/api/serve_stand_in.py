"""Serve the stand-in scheduler: `python -m tests.api.serve_stand_in PORT DATABASE FOLDER [OPTION...]`.

FOLDER is the stand-in planner's; an option is `held`, or a setting as in `workers=2`.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from api.settings import Settings

from .stand_ins import StandInPlanner


def _main(port: str, database: str, folder: str, *options: str) -> None:
    from api.app import serve  # not at the top: children import this module too

    planner = StandInPlanner(Path(folder))
    planner.held = "held" in options
    given = dict(option.split("=", 1) for option in options if "=" in option)
    chosen: dict[str, Any] = {
        name: int(value) if value.isdigit() else value
        for name, value in ({"plan_years": "0", "requests_per_minute": "0", "keys": "none"} | given).items()
    }
    settings = Settings(port=int(port), database=database, **chosen)
    serve(settings, door=planner.door, announce=lambda told: print(told, flush=True))


if __name__ == "__main__":
    _main(*sys.argv[1:])
