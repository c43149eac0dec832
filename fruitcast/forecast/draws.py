"""Random draws tied to what they belong to, so that nothing else can change them.

A draw is fixed by the seed, the weather year, a name (what the stack is like) and the date.
Other stacks, other members, their order, or planning a day later leave it as it was.
"""

from __future__ import annotations

import hashlib
from datetime import date
from functools import lru_cache
from math import gcd

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def standard_normals(
    seed: int, years: tuple[int, ...], name: str, first: date, rows: npt.ArrayLike
) -> FloatArray:
    """Return a standard normal draw for each date and weather year.

    Parameters
    ----------
    seed : int
        The plan's seed.
    years : tuple of int
        The weather year of each member.
    name : str
        What the draw is for.
    first : date
        Date of row 0.
    rows : (day,) int array
        Days after `first` for which to draw.

    Returns
    -------
    (day, member) float array
        [unitless]
    """
    day = np.datetime64(first, "D") + np.asarray(rows, dtype=np.int64)
    new_year = day.astype("datetime64[Y]")
    of_year = (day - new_year.astype("datetime64[D]")).astype(np.int64)
    calendar = new_year.astype(np.int64) + 1970
    drawn = np.empty((len(day), len(years)))
    for year in np.unique(calendar):
        mine = calendar == year
        drawn[mine] = _draws_of_year(seed, years, name, int(year))[of_year[mine]]
    return drawn


def keyed_generator(*key: object) -> np.random.Generator:
    """Return a source of draws that is fixed by what it is for."""
    words = hashlib.blake2b("|".join(map(str, key)).encode(), digest_size=16).digest()
    return np.random.Generator(np.random.Philox(key=np.frombuffer(words, dtype=np.uint64)))


@lru_cache(maxsize=128)
def _draws_of_year(seed: int, years: tuple[int, ...], name: str, year: int) -> FloatArray:
    """Return the draws for all days of one calendar year; planning again asks for them again."""
    drawn = np.empty((366, len(years)))
    for member, weather_year in enumerate(years):
        generator = keyed_generator(seed, weather_year, name, year)
        drawn[:, member] = generator.standard_normal(366)
    drawn.flags.writeable = False
    return drawn


def order_of_members(seed: int, years: tuple[int, ...], name: str) -> npt.NDArray[np.int64]:
    """Return a random order of the members, in which one more moves the others by a place.

    Parameters
    ----------
    seed : int
        The plan's seed.
    years : tuple of int
        The weather year of each member.
    name : str
        What the order is for.

    Returns
    -------
    (member,) int array
        0 to members - 1, each once.
    """
    keys = [f"{seed}|{year}|{name}|{years[:n].count(year)}" for n, year in enumerate(years)]
    drawn = [hashlib.blake2b(key.encode(), digest_size=8).digest() for key in keys]
    order = np.empty(len(years), dtype=np.int64)
    order[sorted(range(len(years)), key=drawn.__getitem__)] = np.arange(len(years))
    return order


def order_across(index: FloatArray, seed: int, name: str) -> npt.NDArray[np.int64]:
    """Return an order of the members that has nothing to do with how good their weather is.

    Along the weather the places go in equal steps round the circle, so that good and bad
    weather meet good and bad luck alike; the seed turns the circle.

    Parameters
    ----------
    index : (member,) float array
        How good each member's weather is, in any unit.
    seed : int
        The plan's seed.
    name : str
        What the order is for.

    Returns
    -------
    (member,) int array
        0 to members - 1, each once.
    """
    members = len(index)
    step = round(0.618 * members)
    while gcd(step, members) != 1:
        step += 1
    word = hashlib.blake2b(f"{seed}|{name}".encode(), digest_size=8).digest()
    turn = int.from_bytes(word) % members
    rank = np.argsort(np.argsort(index, kind="stable"))
    return np.asarray((step * rank + turn) % members)
