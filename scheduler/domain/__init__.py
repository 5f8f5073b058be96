"""The frozen nouns of the trade; every one is checked when it is made.

Angles are in degrees, times are aware UTC datetimes, lengths carry their unit in the name.
Nothing here computes a sky, solves a model or touches a file.
"""

from .kit import Barlow, Binoculars, Eyepiece, Kit, Telescope
from .night import Darkness, FreeNight, Night, Span
from .opportunity import Opportunities, Opportunity
from .plan import Plan, Reason, Sight, Standby, Unplaced, Visit
from .progress import Cancel, Progress, Report, ignore_progress, never_cancelled
from .scenario import Availability, ClearOdds, EveningRule, Routine, Scenario, Season
from .site import Horizon, Site
from .target import SUN_DISTANCE_DEG, Kind, Target

__all__ = [
    "SUN_DISTANCE_DEG",
    "Availability", "Barlow", "Binoculars", "Cancel", "ClearOdds", "Darkness", "EveningRule", "Eyepiece",
    "FreeNight", "Horizon", "Kind", "Kit", "Night", "Opportunities", "Opportunity", "Plan", "Progress",
    "Reason", "Report", "Routine", "Scenario", "Season", "Sight", "Site", "Span", "Standby", "Target",
    "Telescope", "Unplaced", "Visit", "ignore_progress", "never_cancelled",
]  # fmt: skip
