"""The odds of a clear night: as given, as learned from the site's own log, and for the days just ahead.

`months` spreads twelve monthly figures over single evenings; `learned` moves them by what the log tells;
`ahead` adds what last night and a forecast say of the coming days; `scores` judges odds by what came, and
`report` those of every logged night. How one night pulls the next in the plan is the business of `prices`.
"""

from .ahead import evening_odds_of
from .learned import learned_odds_of
from .months import clear_odds_of
from .report import WeatherReport, weather_report_of

__all__ = ["WeatherReport", "clear_odds_of", "evening_odds_of", "learned_odds_of", "weather_report_of"]
