"""The sky: the only package that imports skyfield, and only when a sky is asked for.

`sky_of` gives a season's nights; `places_of` where targets stand on them; `looks_of` how planets look and
`orbit_looks` how minor bodies do; `moonface_of` how the Sun stands over the Moon's craters; `moon_at` and
`sun_at` where the two lights are at any moment; `planet_season_of` when a planet comes and goes. `events` and
`eclipses` say what happens when, `showers` and `variables` when meteors and stars keep their dates.
Altitudes are those without an atmosphere unless called apparent; `refraction` turns one into the other.
"""

from .apparitions import PlanetSeason, planet_season_of
from .constellation import constellation_of
from .horizontal import altitude_azimuth, separation_deg
from .moonface import MoonFace, moonface_of
from .orbits import OrbitLooks, orbit_looks
from .place import Places, places_of
from .planets import PlanetLooks, looks_of
from .refraction import apparent_altitude_deg, true_altitude_deg
from .season import SeasonSky, moon_at, sidereal_deg, sky_of, sun_at

__all__ = [
    "MoonFace", "OrbitLooks", "Places", "PlanetLooks", "PlanetSeason", "SeasonSky", "altitude_azimuth",
    "apparent_altitude_deg", "constellation_of", "looks_of", "moon_at", "moonface_of", "orbit_looks",
    "places_of", "planet_season_of", "separation_deg", "sidereal_deg", "sky_of", "sun_at",
    "true_altitude_deg",
]  # fmt: skip
