"""When targets may be looked at, altitude aside: evenings, readiness, darkness, dates, own moments."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from itertools import zip_longest

import numpy as np

from ..domain import FreeNight, Routine
from ..domain.opportunity import Floats
from .prospect import Prospect


def spans_of(
    prospect: Prospect, free: Sequence[FreeNight], routine: Routine, among: Collection[int] | None = None
) -> Floats:
    """Return when each target may be looked at, altitude aside, (targets, nights, 2) or NaN. [unix s]

    Faint kinds wait for the dark window and for adapted eyes; everything else shows from civil dusk to civil
    dawn (common practice, no source). Dates asked for, moments of their own and the distance from the Sun are
    kept here too. `among` : Which of the free nights count, by position; None for all.
    """
    sky, position = prospect.sky, {evening: night for night, evening in enumerate(prospect.sky.evenings)}
    faint, bright = np.full((len(sky), 2), np.nan), np.full((len(sky), 2), np.nan)
    for place, (one, following) in enumerate(zip_longest(free, free[1:])):
        if among is not None and place not in among:
            continue
        night, arrival_s = position[one.evening], one.free.start.timestamp()
        until_s = one.free.end.timestamp()
        if following is not None:  # polar nights touch at noon: the move to the next one's first target
            next_ready_s = following.free.start.timestamp() + 60.0 * routine.setup_min
            until_s = min(until_s, next_ready_s - 60.0 * routine.move_min)
        ready_s = arrival_s + 60.0 * routine.setup_min
        bright[night] = max(ready_s, sky.twilit_start_unix_s[night]), sky.twilit_end_unix_s[night]
        adapted_s = ready_s + 60.0 * routine.dark_adaptation_min
        faint[night] = max(adapted_s, sky.dark_start_unix_s[night]), sky.dark_end_unix_s[night]
        for span in (bright[night], faint[night]):
            span[1] = min(span[1], until_s)
    return asked_for(prospect, faint, bright)


def asked_for(prospect: Prospect, faint: Floats, bright: Floats) -> Floats:
    """Return each target's spans from those of its kind, inside its dates and moments, away from the Sun.

    `faint` and `bright` are (nights, 2); the result is (targets, nights, 2). [unix s]
    """
    waits = np.array([target.kind.faint for target in prospect.targets], dtype=np.bool_)
    spans = np.where(waits[:, None, None], faint, bright)
    day = np.array([evening.toordinal() for evening in prospect.sky.evenings])
    first, last = (
        np.array([one.toordinal() if one else other for one in dates]).reshape(-1, 1)
        for dates, other in (
            ([target.earliest for target in prospect.targets], date.min.toordinal()),
            ([target.latest for target in prospect.targets], date.max.toordinal()),
        )
    )
    wanted = prospect.safe & (first <= day) & (day <= last)
    timed = prospect.occasions.targets
    own = prospect.occasions.span_unix_s
    spans[timed, :, 0] = np.maximum(spans[timed, :, 0], own[..., 0])
    spans[timed, :, 1] = np.minimum(spans[timed, :, 1], own[..., 1])
    spans[~wanted] = np.nan
    spans[~(spans[..., 0] < spans[..., 1])] = np.nan
    return spans
