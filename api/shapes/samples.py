"""Samples of a scenario's files, as the description shows them; the place is invented."""

from __future__ import annotations

SCENARIO_TOML = """\
title = "Three weeks of late winter"

[site]
name = "Fenwold"
latitude_deg = 52.6
longitude_deg = 0.4
elevation_m = 12
zone = "Europe/London"
sky_brightness = 20.9

[telescope]
name = "150 mm f/8"
aperture_mm = 150
focal_length_mm = 1200

[[eyepieces]]
name = "25 mm"
focal_length_mm = 25

[season]
start = 2027-02-20
nights = 21

[clear_odds]
monthly = [0.3, 0.3, 0.35, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.35, 0.3, 0.3]
"""
WISH_LIST_CSV = "target,priority\r\nM 42,5\r\nM 35,3\r\nM 44,2\r\n"
MORE_TARGETS_CSV = "target,priority\r\nM 37,3\r\n"
FORECAST_CSV = "evening,clear_odds,made_on\r\n2027-02-21,0.7,2027-02-20\r\n"
OUTCOMES_CSV = "evening,outcome,seen\r\n2027-02-21,clouded out,\r\n2027-02-22,clear,M 35\r\n"
CALENDAR_ICS = (
    "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Hendra//Diary//EN\r\nBEGIN:VEVENT\r\nUID:choir@example.org\r\n"
    "DTSTAMP:20260101T120000Z\r\nDTSTART;TZID=Europe/London:20260106T193000\r\nDURATION:PT2H\r\n"
    "RRULE:FREQ=WEEKLY;BYDAY=TU\r\nSUMMARY:Choir\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
)
