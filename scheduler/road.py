"""The drives of a night away: when they start, how long they take, and what to beware of.

Who is tired must not drive, whatever a plan says: local law and one's own limits go first.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from .domain import Site, Span, Trip

LATE_H, EARLY_H = 23, 6
"""Between these hours of the night sleep presses most (common practice, no source). [h]"""


def drives_of(trip: Trip, outing: Span) -> tuple[Span, Span]:
    """Return the way there and the way home of an outing, from arrival to the last thing packed."""
    drive = timedelta(minutes=trip.travel_min)
    return Span(outing.start - drive, outing.start), Span(outing.end, outing.end + drive)


def on_the_road(trip: Trip, outing: Span) -> tuple[tuple[datetime, str], ...]:
    """Return when to leave, and when to drive home, with the words to say."""
    there, home = drives_of(trip, outing)
    return (
        (there.start, f"Leave for {trip.site.name}: {trip.travel_min} min by road."),
        (home.start, f"Drive home, {trip.travel_min} min, if you are wide awake; else sleep first, or stay."),
    )


def caution_of(trip: Trip | None, outing: Span, home: Site) -> str:
    """Return the caution about driving tired; of a trip with the hours of the drive, by the clock of home."""
    if trip is None:
        return "Driving home tired is the greatest danger of the night: rest first, or stay."
    _, back = drives_of(trip, outing)
    start, end = (moment.astimezone(home.local) for moment in (back.start, back.end))
    pressing = ", when sleep presses most" if start.hour >= LATE_H or start.hour < EARLY_H else ""
    return (
        f"The drive home starts about {start:%H:%M}{pressing}, and takes {trip.travel_min} min, until "
        f"{end:%H:%M}. Driving tired: local law and your own limits go first. Share the driving, end early, "
        "or stay the night; no target is worth the road."
    )
