"""Where in the picture of a year things stand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from .whole import WIDE

DAYS = 31


@dataclass(frozen=True, slots=True)
class YearFrame:
    """Measures of a month's row; all in units.

    Attributes
    ----------
    wide : Whether the month's name stands beside its row, not above.
    text : Size of letters.
    gutter : From the left edge to the first day.
    column : From day to day.
    moon_y, moon_r : Of the Moon's middle, below the top of the row; her half width.
    head : From the top of the row to the top of the longest bar.
    tall : Height of the longest bar.
    foot : Below the bars, for the days of the month.
    bar, stem : Widths of a bar, and of the head of a pin.
    sign : Half the width of a sign.
    """

    wide: bool
    text: float
    gutter: float
    column: float
    moon_y: float
    moon_r: float
    head: float
    tall: float
    foot: float
    bar: float
    stem: float
    sign: float

    @property
    def right(self) -> float:
        """The right edge of the last day of a long month."""
        return self.gutter + DAYS * self.column

    @property
    def row(self) -> float:
        """Height of a row."""
        return self.head + self.tall + self.foot

    def left_of(self, day: date) -> float:
        """Return where a day's column begins."""
        return self.gutter + (day.day - 1) * self.column

    def x_of(self, day: date) -> float:
        """Return the middle of a day's bar; the pin has the rest of the column."""
        return self.left_of(day) + 0.1 * self.column + self.bar / 2


def year_frame_of(width: float) -> YearFrame:
    """Return the measures of a picture of some width."""
    if width >= WIDE:
        column = (width - 124.0) / DAYS
        return YearFrame(
            True, 12.0, 122.0, column, 12.0, 4.5, 31.0, 54.0, 17.0, 0.42 * column, 0.22 * column, 4.0
        )
    column = (width - 26.0) / DAYS
    return YearFrame(False, 10.5, 24.0, column, 28.0, 3.8, 44.0, 50.0, 15.0, 0.4 * column, 0.34 * column, 3.2)
