"""The addresses of the service, one module for each noun."""

from __future__ import annotations

from fastapi import APIRouter

from ..storage import Noun
from . import (
    calendars,
    clubs,
    collections,
    engagements,
    feeds,
    health,
    jobs,
    keys,
    outcomes,
    parts,
    plans,
    questions,
    reference,
    scenarios,
    shared,
    sky,
)

ROUTERS: tuple[APIRouter, ...] = (
    clubs.router,
    keys.router,
    *(shared.router_of(noun) for noun in Noun),
    engagements.router,
    scenarios.router,
    parts.router,
    outcomes.router,
    plans.router,
    calendars.router,
    feeds.router,
    collections.router,
    questions.router,
    sky.router,
    jobs.router,
    health.router,
    reference.router,
)
