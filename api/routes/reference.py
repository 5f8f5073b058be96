"""The service explains itself: every address, and every kind of problem. Nothing here asks the outside."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from ..errors import NoSuch
from ..kinds import all_kinds
from ..reference import CONTENT_SECURITY_POLICY, page_of
from ..shapes import ProblemKind, refusals

router = APIRouter(tags=["reference"])


@router.get("/docs", response_class=HTMLResponse, include_in_schema=False)
def read_docs(request: Request) -> HTMLResponse:
    """Show every address on one plain page."""
    described: dict[str, Any] = request.app.openapi()
    return HTMLResponse(
        page_of(described, all_kinds()), headers={"Content-Security-Policy": CONTENT_SECURITY_POLICY}
    )


@router.get("/problems/{kind}", response_model=ProblemKind, responses=refusals(404))
def read_problem_kind(kind: str) -> ProblemKind:
    """Explain a kind of problem: the `type` of every problem leads here."""
    for known in all_kinds():
        if known.name == kind:
            return ProblemKind(type=known.type, title=known.title, status=known.status, advice=known.advice)
    raise NoSuch("kind of problem", kind)
