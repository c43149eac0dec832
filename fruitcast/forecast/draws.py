"""Random draws tied to what they belong to, so that nothing else can change them.

A draw is fixed by the seed, the weather year, a name (what the stack is like) and the date.
Other stacks, other members, their order, or planning a day later leave it as it was.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def standard_normals(
    seed: int, years: Sequence[int], name: str, days: Sequence[date]
) -> FloatArray:
    """Return a standard normal draw for each date and weather year.

    Parameters
    ----------
    seed : int
        The plan's seed.
    years : sequence of int
        The weather year of each member.
    name : str
        What the draw is for.
    days : sequence of date
        The dates.

    Returns
    -------
    (day, member) float array
        [unitless]
    """
    drawn = np.empty((len(days), len(years)))
    calendar = sorted({day.year for day in days})
    index = {
        year: np.array([n for n, day in enumerate(days) if day.year == year], dtype=np.int64)
        for year in calendar
    }
    of_year = {
        year: np.array([days[n].timetuple().tm_yday for n in rows], dtype=np.int64)
        for year, rows in index.items()
    }
    for member, weather_year in enumerate(years):
        for year in calendar:
            key = f"{seed}|{weather_year}|{name}|{year}".encode()
            words = np.frombuffer(hashlib.blake2b(key, digest_size=16).digest(), dtype=np.uint64)
            generator = np.random.Generator(np.random.Philox(key=words))
            drawn[index[year], member] = generator.standard_normal(367)[of_year[year]]
    return drawn
