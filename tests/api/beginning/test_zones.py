"""Whether a zone fits its place; the clocks of the zones are those of the tz database."""

from __future__ import annotations

import pytest

from api.beginning.zones import zone_doubt, zones_meant


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone", "near"),
    [(49.9, -8.15, "Europe/Berlin", "Penzance"), (52.3, -8.15, "Europe/Berlin", "Europe/Dublin"),
     (47.9, -8.15, "Europe/Berlin", "with the other sign"), (40.7, 74.0, "America/New_York", "Asia/"),
     (30.0, -40.0, "Europe/Berlin", "Ponta Delgada"), (19.1, 72.9, "Asia/Karachi", "Asia/Kolkata"),
     (33.4, -112.0, "America/Denver", "America/Phoenix")],
)  # fmt: skip
def test_a_zone_whose_clock_is_not_that_of_the_place_is_doubted(
    latitude_deg: float, longitude_deg: float, zone: str, near: str
) -> None:
    assert near in (zone_doubt(latitude_deg, longitude_deg, zone) or "")


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone"),
    [(47.9, 8.15, "Europe/Berlin"), (47.6, 7.7, "Europe/Zurich"), (55.2, -2.4, "Europe/London"),
     (30.0, -40.0, "Etc/GMT+3"), (0.0, -150.0, "Pacific/Honolulu"), (42.9, -9.1, "Europe/Madrid"),
     (27.7, 85.3, "Asia/Kolkata"), (-48.0, -72.0, "America/Argentina/Rio_Gallegos"),
     (90.0, 0.0, "UTC"), (47.9, 8.15, "Europe/Nowhere")],
)  # fmt: skip
def test_a_zone_that_may_be_right_is_not(latitude_deg: float, longitude_deg: float, zone: str) -> None:
    """At home, beyond a border with the same clock, far at sea by the Sun, in the steppe, 15 min off."""
    assert zone_doubt(latitude_deg, longitude_deg, zone) is None


@pytest.mark.parametrize("typed", ["", "Europe/", "Europe/Xqzzw", "/", "_"])
def test_nothing_is_proposed_where_nothing_is_alike(typed: str) -> None:
    assert zones_meant(typed, ["Europe/Luxembourg", "Europe/Zagreb", "Europe/Riga"]) == ()


def test_the_zone_of_the_town_it_names_goes_before_names_alike() -> None:
    assert zones_meant("Europe/Freiburg", ["Europe/Luxembourg"]) == ("Europe/Berlin",)
    assert zones_meant("New York", []) == ("America/New_York",)
    assert zones_meant("Europe/Berln", ["Europe/Berlin", "Europe/Dublin"]) == ("Europe/Berlin",)
