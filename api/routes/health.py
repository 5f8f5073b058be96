"""Whether the service lives, and whether it can work."""

from __future__ import annotations

from fastapi import APIRouter

from ..deps import TheServices
from ..shapes import Health, refusals

router = APIRouter(tags=["health"])


@router.get("/livez", response_model=Health)
def livez() -> Health:
    """Tell that the process answers."""
    return Health(status="alive")


@router.get("/readyz", response_model=Health, responses=refusals(503))
def readyz(services: TheServices) -> Health:
    """Tell that database and workers are ready."""
    services.storage.check()
    services.jobs.check()
    return Health(status="ready")
