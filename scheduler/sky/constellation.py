"""Which constellation a place lies in."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray


@cache
def _constellation_map() -> Any:
    from skyfield.api import load_constellation_map, load_constellation_names

    # the IAU writes Bootes with a diaeresis, the bundled list without
    return load_constellation_map(), {**dict(load_constellation_names()), "Boo": "Boötes"}


def constellation_of(ra_deg: ArrayLike, dec_deg: ArrayLike) -> NDArray[np.str_]:
    """Return the IAU name of the constellation at ICRS places, any shape.

    References
    ----------
    N. G. Roman, Publications of the Astronomical Society of the Pacific 99 (1987) 695; CDS VI/42, as
    bundled with skyfield.

    Examples
    --------
    >>> str(constellation_of(83.82, -5.39))
    'Orion'
    """
    from skyfield.api import position_of_radec

    ra, dec = np.broadcast_arrays(np.asarray(ra_deg, np.float64), np.asarray(dec_deg, np.float64))
    at, names = _constellation_map()
    short = np.atleast_1d(at(position_of_radec(ra.ravel() / 15.0, dec.ravel())))
    return np.asarray([names[s] for s in short], dtype=np.str_).reshape(ra.shape)
