"""What the log has taught of the weather, in the terminal."""

from __future__ import annotations

from calendar import month_name

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from .domain import Scenario
from .figures import percent
from .weather import WeatherReport

NO_LOG = (
    "Nothing is logged that tells of the weather, so the given odds stand; outcomes.csv would teach them."
)
FAIR = "Log clouded nights too: odds learned from the good ones alone are too high."
JUDGED = (
    "Each night judged by odds from what had been logged before it. Brier and log score: less is better; "
    "skill is the part of the given odds' Brier score that is saved."
)


def weather_shown(report: WeatherReport, scenario: Scenario) -> RenderableType:
    """Return the learned odds beside the given ones by month, the persistence and the scores."""
    parts: list[RenderableType] = [_heading(report, scenario), _months(report)]
    parts.append(
        f"Persistence: given {report.given.persistence:.2f}, learned {report.learned.persistence:.2f}"
    )
    if report.scores:
        parts += [Text(), Text(JUDGED), _scores(report), Text()]
        parts += [f"Odds {report.scores[-1].name}, and what came", _reliability(report), Text(), Text(FAIR)]
    else:
        parts += [Text(), Text(NO_LOG)]
    return Group(*parts)


def _heading(report: WeatherReport, scenario: Scenario) -> Text:
    told = sum(report.nights)
    nights = "1 night" if told == 1 else f"{told} nights"
    more = f", {report.could_not_go} more on which nobody could go" if report.could_not_go else ""
    return Text(f"Clear odds at {scenario.site.name}: {nights} logged{more}", style="bold")


def _table(first: str, *columns: str) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column(first, no_wrap=True)
    for column in columns:
        table.add_column(column, justify="right", no_wrap=True)
    return table


def _months(report: WeatherReport) -> Table:
    table = _table("month", "given", "learned", "nights", "clear")
    rows = zip(report.given.monthly, report.learned.monthly, report.nights, report.clear, strict=True)
    for month, (given, learned, nights, clear) in enumerate(rows, 1):
        table.add_row(month_name[month], percent(given), percent(learned), str(nights), f"{clear:.1f}")
    return table


def _scores(report: WeatherReport) -> Table:
    table = _table("odds", "Brier", "log", "skill")
    for score in report.scores:
        table.add_row(score.name, f"{score.brier:.3f}", f"{score.log:.3f}", f"{100 * score.skill:+.1f} %")
    return table


def _reliability(report: WeatherReport) -> Table:
    table = _table("odds", "nights", "expected", "came")
    for one in report.reliability:
        table.add_row(
            f"{100 * one.low:.0f} to {100 * one.high:.0f} %", str(one.nights),
            percent(one.mean_odds), percent(one.clear_share),
        )  # fmt: skip
    return table
