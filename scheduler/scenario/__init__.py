"""Read a scenario from its folder: `scenario.toml` says who observes where and when, `wish-list.csv` what.

A folder may also hold `outcomes.csv`, how past nights went, and `forecast.csv`, what is expected of nights to
come. Everything wrong with all files is reported at once, each fault with its place and its remedy.

**scenario.toml** needs a place, a time zone, and a telescope or binoculars; everything else has a default::

    title = "A year at Larkmoor"          # default: the site's name

    [site]
    name = "Larkmoor"                     # default: the folder's name
    latitude_deg = 55.2                   # needed; north positive
    longitude_deg = -2.4                  # needed; east positive
    elevation_m = 240                     # default 0
    zone = "Europe/London"                # needed; an IANA name
    sky_brightness = 21.2                 # default 21.0, a rural sky [mag/arcsec2]
    extinction_mag = 0.26                 # default: from the elevation, see `extinction_at`
    horizon = [[0, 5], [90, 12]]          # [azimuth_deg, altitude_deg] pairs; default: nothing in the way
    seeing_arcsec = 2.5                   # default 2.5; blur of a star overhead on a usual night

    [[sites]]                             # default: none; sites away from home, one table each
    name = "Blackmoss"                    # needed
    latitude_deg = 55.0                   # needed
    longitude_deg = -3.1                  # needed; the time zone is home's, its clock tells all times
    elevation_m = 310                     # this and what follows as for [site]
    sky_brightness = 21.7
    extinction_mag = 0.25
    horizon = [[0, 3]]
    seeing_arcsec = 2.5
    travel_min = 70                       # needed; one way, door to door
    trip_cost = 0.6                       # what a night there must bring beyond a night out, in priority x
                                          # merit; default 0.25 for each hour on the road, both ways

    [telescope]                           # this, [binoculars], or both
    name = "Dobsonian"                    # default: its figures
    aperture_mm = 200
    focal_length_mm = 1200
    obstruction_mm = 50                   # default 0

    [[telescopes]]                        # a second one, and more; same keys
    name = "Small refractor"
    aperture_mm = 70
    focal_length_mm = 700
    obstruction_mm = 0

    [[eyepieces]]                         # default: three, of 5, 2 and 1 mm exit pupil
    name = "Low power"                    # default: its focal length
    focal_length_mm = 25
    apparent_field_deg = 50               # default 50
    telescope = "Dobsonian"               # default: fits every telescope

    [[eyepieces]]
    focal_length_mm = 10

    [barlow]                              # default: none
    factor = 2

    [[filters]]                           # default: none
    name = "Oxygen filter"                # default: from its lines
    lines = "O III"                       # or "H-beta"; default "both"
    line_pass = 0.9                       # default 0.9
    sky_pass = 0.2                        # default 0.2, of everything else

    [binoculars]
    name = "Field glass"                  # default: its figures
    magnification = 10
    aperture_mm = 50
    true_field_deg = 6.5                  # default 5

    [[observers]]                         # default: one of 40 years; the oldest who uses an instrument counts
    name = "Ada"
    age = 61                              # default 40
    instruments = ["Dobsonian"]           # default: all
    weekdays = "Mon, Wed"                 # of the free evenings, those on which she comes along; default: all
    away = ["2027-08-01..2027-08-14"]     # evenings on which she does not; default: none

    [season]
    start = 2027-01-01                    # default: today
    nights = 365                          # default 365

    [[evenings]]                          # default: free every night, all night
    weekdays = "Mon to Thu"               # or ["Mon", "Wed"]; default: every day
    start = 20:30:00                      # or "20:30"; default: as soon as it is dark enough
    finish = 00:30:00                     # before noon = after midnight; default: as long as it is dark

    [availability]
    extra = [2027-08-12]                  # evenings free although no rule says so
    away = ["2027-07-10..2027-07-24"]     # evenings not free; dates and ranges, both ends included
    nights_per_week = 3                   # default: no limit
    nights_per_month = 8                  # default: no limit
    trips_per_month = 1                   # nights away from home; default: no limit
    trips_per_season = 6                  # default: no limit
    announced = [2027-02-12]              # evenings told to others: their programme stands in a re-plan

    [routine]
    setup_min = 20                        # default 20
    dark_adaptation_min = 30              # default 30
    move_min = 4                          # default 4
    outing_cost = 0.25                    # what a night out must bring, in priority x merit; default 0.25
    steadiness = 0.05                     # what staying is worth in a re-plan, part of a visit's worth; 0.05

    [guests]                              # default: none
    evenings = [2027-08-12]               # free evenings on which guests come: showpieces only
    people = 8                            # default 8
    minutes_each = 1                      # default 1; every visit is long enough for everybody
    finish = "22:30"                      # default: the evening's own

    [club]                                # default: none; nights all observers share and the plan keeps
    evenings = [2027-09-09]               # free evenings
    site = "Blackmoss"                    # a site away; default: home

    [clear_odds]
    monthly = 0.4                         # one number, or twelve from January on; default 0.5
    persistence = 0.3                     # default 0.3

    [[forecast]]                          # default: none; one table a night, or rows of forecast.csv
    evening = 2027-03-05
    clear_odds = 0.7                      # as the forecast has it
    made_on = 2027-03-03                  # the day it was made

    [defaults]                            # for wish-list rows that leave the cell blank
    minutes = 20                          # default by kind, see `columns.MINUTES`
    priority = 3                          # default 3
    visits = 1                            # default 1
    spacing_days = 7                      # default 7
    longest_spacing_days = 12             # default: no limit
    lowest_altitude_deg = 20              # default by kind: 20, planets 15, Venus 10, Mercury 8

**wish-list.csv** needs one column, `target`, with designations or names. Optional columns:

- of every kind: `kind`, `minutes`, `priority`, `visits`, `spacing_days`, `longest_spacing_days` (most days
  to the next visit), `earliest`, `latest`, `lowest_altitude_deg`, `instrument` ("naked eye", "binoculars",
  "telescope" or a name from scenario.toml; one the kit holds and somebody uses), `observer` (who wants to see
  it: only evenings on which they come along count; default: whoever is there), `name` (a common name to
  print), `notes` (ignored);
- a place of one's own: `ra_deg`, `dec_deg`, `magnitude`, `size_arcmin`;
- deep-sky object: `what` ("galaxy", "open cluster", ...), `minor_arcmin`, `stars`;
- double star: `bright_mag`, `faint_mag`, `separation_arcsec`, `position_angle_deg`;
- variable star: `brightest_mag`, `faintest_mag`, and where it keeps time `epoch_hjd`, `period_d`, `phase`
  ("minimum" or "maximum"), `wide_h` (hours around it worth watching); without them it is seen at any time,
  and `spacing_days` with `longest_spacing_days` make a cadence;
- moon feature: `moon_longitude_deg` (east positive), `moon_latitude_deg`, `size_km`;
- minor body: `elements`, one line or JSON as the Minor Planet Center gives them;
- meteor shower: `peak_longitude_deg`, `zenithal_rate`, `population_index`;
- event: `start`, `end` (local times, as in 2027-08-12 21:30) and `at`, the name of what it happens at, or a
  place; its visit lasts all of it, ten hours at most.

Whatever the catalogue knows by its name needs none of them: "Plato", "Algol", "Perseids", "Vesta", "Jupiter",
"Lunar eclipse". Own cells win over the catalogue's, and own coordinates make any name a target; a plain
number is in degrees, `05:35:17` in `ra_deg` is hours of right ascension, `-05:23:28` in `dec_deg` degrees.
Commas, semicolons or tabs separate; decimal commas are read where a comma does not separate; UTF-8, UTF-16
with its mark, and Windows-1252 are told apart.

**outcomes.csv** is the log, a line a night, newest last: `evening`, `outcome` ("clear", "part-clear",
"clouded out" or "could not go", which tells nothing of the weather), and optionally `usable_min` (clear
minutes), `notes`, `seen`, `seen_poorly`, `not_seen` and `sky_brightness` (measured near the zenith,
mag/arcsec2, 10 to 24; kept, but no plan uses it). The three before it hold names of the wish-list, separated
by ";" (quote the cell where semicolons separate the columns; one that belongs to a name is doubled, ";;"), in
any spelling the wish-list itself takes.
What was seen counts as a visit made on that evening, whether it was planned or not: it is one visit less, and
the spacing counts from it. What was seen poorly is kept in the log but still wanted, as is what was not seen.
Everything in the log counts, also from before the season: who wants a target again raises its `visits`. A
clear or part-clear night was spent outside and counts against the limits of its week and month.
Nothing need be taken out: a later line for the same evening corrects an earlier one, wholly: say again what
was seen. From the log the clear odds and the persistence are learned, see `weather`.

**forecast.csv** has `evening`, `clear_odds` and `made_on`, and optionally `notes`; the latest forecast of an
evening counts.

The default minutes, altitudes, sky brightness and exit pupils are common practice, no source.
"""

from .joined import joined_wish_lists
from .known import Known, LookUp
from .reading import faults_of, read_scenario
from .sites import extinction_at

__all__ = ["Known", "LookUp", "extinction_at", "faults_of", "joined_wish_lists", "read_scenario"]
