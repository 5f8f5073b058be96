"""The frozen nouns of the trade; every one is checked when it is made.

Angles are in degrees, times are aware UTC datetimes, lengths carry their unit in the name.
Nothing here computes a sky, solves a model or touches a file.
"""

from .amendment import Amendment
from .change import Change, ChangeReason, Difference, Differences
from .explained import (
    Alternative,
    Expected,
    GivesWay,
    MonthPrice,
    NightPrice,
    Remedy,
    SeasonPrices,
    TargetGain,
    WhatIf,
    WhyNot,
    WhyThen,
)
from .kit import Barlow, Binoculars, Eyepiece, Filter, Kit, Lines, Observer, Telescope
from .look import Pointing, View
from .nature import Extended, LightCurve, MoonFeature, Nature, Occasion, Orbit, Pair, Phase, Shower
from .night import Darkness, FreeNight, Night, Span
from .odds import AT_RISK, LivedYears, Milestone, Odds, TargetOdds
from .opportunity import Opportunities, Opportunity
from .outcome import Forecast, Outcome, OutcomeLog, Sighting, Went, sightings_in
from .plan import Plan, Reason, Sight, Standby, Unplaced, Visit
from .progress import Cancel, Progress, Report, ignore_progress, never_cancelled
from .scenario import Availability, ClearOdds, Club, EveningRule, Guests, Routine, Scenario, Season
from .showing import GOOD_SHARE, Showing
from .site import PACKING_MIN, Horizon, Site, Trip
from .target import BINOCULARS, JUPITER, MOON, NAKED_EYE, SUN_DISTANCE_DEG, TELESCOPE, Kind, Target

__all__ = [
    "AT_RISK", "BINOCULARS", "GOOD_SHARE", "JUPITER", "MOON", "NAKED_EYE", "PACKING_MIN", "SUN_DISTANCE_DEG",
    "TELESCOPE",
    "Alternative", "Amendment", "Availability", "Barlow", "Binoculars", "Cancel", "Change", "ChangeReason",
    "ClearOdds", "Club", "Darkness", "Difference", "Differences", "EveningRule", "Expected", "Extended",
    "Eyepiece", "Filter", "Forecast", "FreeNight", "GivesWay", "Guests", "Horizon", "Kind", "Kit",
    "LightCurve", "Lines", "LivedYears", "Milestone", "MonthPrice", "MoonFeature", "Nature", "Night",
    "NightPrice", "Observer", "Occasion", "Odds", "Opportunities", "Opportunity", "Orbit", "Outcome",
    "OutcomeLog", "Pair", "Phase", "Plan", "Pointing", "Progress", "Reason", "Remedy", "Report", "Routine",
    "Scenario", "Season", "SeasonPrices", "Shower", "Showing", "Sight", "Sighting", "Site", "Span", "Standby",
    "Target", "TargetGain", "TargetOdds", "Telescope", "Trip", "Unplaced", "View", "Visit", "Went", "WhatIf",
    "WhyNot", "WhyThen", "ignore_progress", "never_cancelled", "sightings_in",
]  # fmt: skip
