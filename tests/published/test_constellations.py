"""Constellations as Roman's own examples and as astropy have them.

Sources: the eight examples of the ReadMe of CDS VI/42 (N. G. Roman, PASP 99 (1987) 695), equinox B1950, as
carried by astropy (astropy/coordinates/tests/test_funcs.py, which names that ReadMe); astropy's
`get_constellation`, another implementation of the same boundaries.
"""

from __future__ import annotations

import numpy as np
from astropy import units as u
from astropy.coordinates import FK5, ICRS, SkyCoord, get_constellation

from scheduler.catalogue.tables import constellation_name
from scheduler.sky import constellation_of

# hours and degrees of B1950, constellation
ROMAN = (
    (9.0, 65.0, "Ursa Major"), (23.5, -20.0, "Aquarius"), (5.12, 9.12, "Orion"),
    (9.4555, -19.9, "Hydra"), (12.8888, 22.0, "Coma Berenices"), (15.6687, -12.1234, "Libra"),
    (19.0, -40.0, "Corona Australis"), (6.2222, -81.1234, "Mensa"),
)  # fmt: skip


def test_romans_own_examples() -> None:
    hours, dec_deg, names = zip(*ROMAN, strict=True)
    places = FK5(hours * u.hour, dec_deg * u.deg, equinox="B1950").transform_to(ICRS())
    assert constellation_of(places.ra.deg, places.dec.deg).tolist() == list(names)


def test_astropy_finds_the_same_constellations_all_over_the_sky() -> None:
    dice = np.random.default_rng(11)
    ra_deg, dec_deg = dice.uniform(0, 360, 5000), np.degrees(np.arcsin(dice.uniform(-1, 1, 5000)))
    theirs = get_constellation(SkyCoord(ra_deg * u.deg, dec_deg * u.deg), short_name=True)
    differ = constellation_of(ra_deg, dec_deg) != np.array([constellation_name(str(one)) for one in theirs])
    # astropy precesses a little otherwise, which shows within arcseconds of a boundary only
    assert differ.sum() <= 1
