"""Whether the service lives, and whether it can work."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, Request, Response

from ..auth import needs_service
from ..deps import TheServices, metrics_of
from ..shapes import Health, answers, refusals
from ..storage import Role

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


@router.get("/metrics", response_class=Response, dependencies=[needs_service(Role.READER)],
            responses={**answers(200, "text/plain"), **refusals(401, 403)})  # fmt: skip
def read_metrics(
    request: Request, accept: Annotated[str | None, Header(include_in_schema=False)] = None
) -> Response:
    """Fetch the service's counts for a monitoring system, as plain text or OpenMetrics."""
    page, media_type = metrics_of(request).page(accept)
    return Response(page, media_type=None, headers={"Content-Type": media_type})
