"""The addresses of the service, one module for each noun."""

from __future__ import annotations

from fastapi import APIRouter

from . import health, jobs, plans, reference, scenarios

ROUTERS: tuple[APIRouter, ...] = (
    scenarios.router,
    plans.router,
    jobs.router,
    health.router,
    reference.router,
)
