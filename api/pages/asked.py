"""Questions asked on pages: one about the same thing is worked out once, and kept to be read again."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from itertools import count
from typing import Any

from ..amending import amendment_of
from ..deps import Services
from ..kept import brought_up_to_date
from ..page import day_words
from ..seasons import begins_on
from ..shapes import WhatIfWish, WhyWish
from ..starting import granted, prices_started, what_if_started, why_started
from ..storage import JobRecord, JobState, Work

QUESTIONS = (Work.WHY, Work.PRICES, Work.WHAT_IF)
MOST_LISTED = 200


def why_asked(services: Services, plan: str, wish: WhyWish) -> JobRecord:
    """Return the job that explains a target of a plan, started if it is not there yet."""
    told = wish.model_dump(mode="json")
    return _once([Work.WHY, plan, told], lambda key: why_started(services, plan, wish, key))


def prices_asked(services: Services, scenario: str) -> JobRecord:
    """Return the job that prices a scenario's nights as it stands now, started if it is not there yet."""
    stands = _standing(services, scenario)
    return _once([Work.PRICES, *stands], lambda key: prices_started(services, scenario, key))


def what_if_asked(services: Services, scenario: str, wish: WhatIfWish) -> JobRecord:
    """Return the job that lives through a changed scenario, started if it is not there yet."""
    told = wish.model_dump(mode="json") | granted(services, seconds=wish.seconds, years=wish.years)
    stands = _standing(services, scenario)
    return _once([Work.WHAT_IF, *stands, told], lambda key: what_if_started(services, scenario, wish, key))


def asked_again(services: Services, job: JobRecord) -> JobRecord:
    """Return a job that works out what an earlier one was asked, about the scenario as it stands now."""
    if job.work is Work.WHY:
        told = {name: job.wish[name] for name in WhyWish.model_fields if name in job.wish}
        return why_asked(services, str(job.wish["plan"]), WhyWish(**told))
    if job.work is Work.PRICES:
        return prices_asked(services, job.scenario)
    return what_if_asked(services, job.scenario, wish_of(job))


def wish_of(job: JobRecord) -> WhatIfWish:
    """Return what a what-if was asked."""
    return WhatIfWish(**{name: job.wish[name] for name in WhatIfWish.model_fields if name in job.wish})


@dataclass(frozen=True, slots=True)
class Asked:
    """A question of a scenario.

    Attributes
    ----------
    words : What was asked.
    behind : Whether the log or the scenario has changed since.
    """

    job: JobRecord
    words: str
    behind: bool


def asked_of(services: Services, scenario: str) -> tuple[Asked, ...]:
    """Return the questions of a scenario that are answered or being worked out, newest first."""
    record, lines = services.storage.scenarios.get(scenario), len(services.storage.outcomes.lines(scenario))
    jobs = services.storage.jobs.of_scenario(scenario, QUESTIONS, MOST_LISTED)
    return tuple(
        Asked(job, question_words(job), job.revision != record.revision or job.outcomes != lines)
        for job in jobs if job.answered or not job.state.ended
    )  # fmt: skip


def question_words(job: JobRecord) -> str:
    """Return in words what a job was asked.

    Examples
    --------
    >>> from types import SimpleNamespace as Kept
    >>> question_words(Kept(work=Work.WHY, wish={"target": "M 33", "evening": "2027-01-01"}))
    'M 33 on another night than Fri 1 Jan'
    >>> question_words(Kept(work=Work.WHAT_IF, wish={"weekdays": ["thu"], "years": 50}))
    'What if: Thursdays free too (50 weather years)'
    """
    wish: Mapping[str, Any] = job.wish
    if job.work is Work.WHY:
        if wish.get("evening"):
            evening = date.fromisoformat(wish["evening"])
            return f"{wish['target']} on another night than {day_words(evening)}"
        return f"A visit for {wish['target']}"
    if job.work is Work.PRICES:
        return "What one more night is worth"
    return f"What if: {amendment_of(wish).words} ({wish['years']} weather years)"


def _standing(services: Services, scenario: str) -> list[object]:
    """Return what an answer about a scenario depends on."""
    brought_up_to_date(services, scenario)
    storage = services.storage
    record = storage.scenarios.get(scenario)
    files, _ = storage.scenarios.files(scenario, record.revision)
    begins = begins_on(files.scenario_toml, storage.now())
    return [scenario, record.revision, len(storage.outcomes.lines(scenario)), str(begins)]


def _once(question: list[object], start: Callable[[str], JobRecord]) -> JobRecord:
    """Start the work on a question unless it is at work or done: of two who ask at once, one starts it.

    A turn that failed or was cancelled is spent, and the next one begins.
    """
    digest = sha256(json.dumps(question).encode()).hexdigest()[:40]
    turns = (start(f"page-{digest}-{turn}") for turn in count())
    return next(job for job in turns if not _is_spent(job))


def _is_spent(job: JobRecord) -> bool:
    return job.cancelling or job.state in (JobState.FAILED, JobState.CANCELLED)
