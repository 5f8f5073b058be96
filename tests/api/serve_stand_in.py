"""Serve the stand-in scheduler: `python -m tests.api.serve_stand_in PORT DATABASE [held]`."""

from __future__ import annotations

import sys
from pathlib import Path

from api.app import serve
from api.settings import Settings

from .stand_ins import StandInPlanner

if __name__ == "__main__":
    planner = StandInPlanner(Path(f"{sys.argv[2]}-planner"))
    planner.held = "held" in sys.argv
    settings = Settings(
        port=int(sys.argv[1]), database=Path(sys.argv[2]), keys="none", requests_per_minute=0, plan_years=0
    )
    serve(settings, door=planner.door, announce=lambda told: print(told, flush=True))
