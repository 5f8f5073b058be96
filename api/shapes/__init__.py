"""What goes over the wire: the bodies of requests and answers, with an example of each."""

from __future__ import annotations

from .base import (
    ANY_REFUSAL,
    ETAG,
    IF_NEW,
    Described,
    Health,
    Problem,
    ProblemEntry,
    ProblemKind,
    Shape,
    answers,
    next_page,
    refusals,
)
from .clubs import (
    ClubPage,
    ClubShape,
    ClubWish,
    KeyPage,
    KeyShape,
    KeyWish,
    MadeKeyShape,
    SharedPage,
    SharedShape,
    SharedWish,
)
from .collections import (
    CollectionChange,
    CollectionPage,
    CollectionShape,
    CollectionWish,
    PushShape,
    PushWish,
)
from .engagements import (
    BusyShape,
    EngagementPage,
    EngagementShape,
    EngagementWish,
    FreeNightShape,
    FreeNightsShape,
    SpanShape,
)
from .feeds import (
    CalendarNights,
    CalendarNightShape,
    CalendarShape,
    CalendarWish,
    FeedPage,
    FeedShape,
    FeedWish,
)
from .plans import (
    JobPage,
    JobShape,
    OddsWish,
    PlanPage,
    PlanShape,
    PlanWish,
    PricesWish,
    ProgressShape,
    WhatIfWish,
    WhyWish,
)
from .scenarios import (
    AvailabilityShape,
    EveningsShape,
    OutcomeList,
    OutcomeShape,
    OutcomeWish,
    ScenarioPage,
    ScenarioShape,
    UsesShape,
)

__all__ = [
    "ANY_REFUSAL", "ETAG", "IF_NEW", "AvailabilityShape", "BusyShape", "CalendarNightShape", "CalendarNights",
    "CalendarShape", "CalendarWish", "ClubPage", "ClubShape", "ClubWish", "CollectionChange",
    "CollectionPage", "CollectionShape", "CollectionWish", "Described", "EngagementPage", "EngagementShape",
    "EngagementWish", "EveningsShape", "FeedPage", "FeedShape", "FeedWish", "FreeNightShape",
    "FreeNightsShape", "Health", "JobPage", "JobShape", "KeyPage", "KeyShape", "KeyWish", "MadeKeyShape",
    "OddsWish", "OutcomeList", "OutcomeShape", "OutcomeWish", "PlanPage", "PlanShape", "PlanWish",
    "PricesWish", "Problem", "ProblemEntry", "ProblemKind", "ProgressShape", "PushShape", "PushWish",
    "ScenarioPage", "ScenarioShape", "Shape", "SharedPage", "SharedShape", "SharedWish", "SpanShape",
    "UsesShape", "WhatIfWish", "WhyWish", "answers", "next_page", "refusals",
]  # fmt: skip
