"""Sums and look-ups along days: 'rain of the last 3 days', 'the next day on which'.

Arrays are day-first (day, column) and no column looks at another. Every rule on daily
weather in this package is put together from these.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray

_TOLERANCE = 1e-9  # sums that are equal on paper must count as reached


def rolling_sum(x: FloatArray, days: int) -> FloatArray:
    """Return the sum over each day and the days before it, `days` in all, at least 1.

    The first days sum what there is. Adds day by day rather than by differences of running
    totals, so that a sum doesn't depend on how long the table is.
    """
    total = np.array(x, dtype=float)
    for back in range(1, min(days, len(x))):
        total[back:] += x[:-back]
    return total


def rolling_mean(x: FloatArray, days: int) -> FloatArray:
    """Return the mean over each day and the days before it, as `rolling_sum`."""
    count = np.minimum(np.arange(1, len(x) + 1), days).astype(float)
    return np.asarray(rolling_sum(x, days) / count.reshape(-1, *[1] * (x.ndim - 1)))


def lag(x: FloatArray, days: int, fill: float) -> FloatArray:
    """Return the values of `days` days ago, and `fill` where the table had not begun."""
    late = np.full(x.shape, fill, dtype=float)
    if days < len(x):
        late[days:] = x[: len(x) - days]
    return late


def next_true(flags: BoolArray) -> npt.NDArray[np.int32]:
    """Return, for each day, the first day on or after it with the flag up: (day + 1, column).

    The number of days where no flag follows. The last row, for the day past the end, makes the
    look-up safe for any day index that these functions return.
    """
    days, columns = flags.shape
    # Column by column, each with the day past its end: one day after another is repeated.
    up = np.ones((columns, days + 1), dtype=bool)
    up[:, :-1] = flags.T
    found = np.flatnonzero(up)
    following = np.repeat((found % (days + 1)).astype(np.int32), np.diff(found, prepend=-1))
    return np.asarray(following.reshape(columns, days + 1).T)


def true_at(flags: BoolArray) -> tuple[IntArray, ...]:
    """Return where flags are up, as the slower `numpy.nonzero`: ten times as long where few are."""
    return np.unravel_index(np.flatnonzero(flags), flags.shape)


def cumulate(x: FloatArray) -> FloatArray:
    """Return running totals, (day + 1, column): row d is the sum of the days before day d.

    The sum over the days a .. b-1 is row b less row a.
    """
    total = np.zeros((len(x) + 1, *x.shape[1:]))
    np.cumsum(x, axis=0, out=total[1:])
    return total


def first_reached(
    cumulated: FloatArray, start: npt.ArrayLike, column: npt.ArrayLike, amount: npt.ArrayLike
) -> IntArray:
    """Return the first day by whose morning an amount has built up since the start day.

    The number of days where the table ends too soon. `cumulated` are running totals of daily
    amounts that are never negative, (day + 1, column), see `cumulate`; the start day itself
    counts, days past the table are its end. Start, column and amount broadcast together.
    """
    days, columns = len(cumulated) - 1, cumulated.shape[1]
    first, where, need = np.broadcast_arrays(start, column, amount)
    begin = np.minimum(first.astype(np.int64), days) * columns + where
    flat = cumulated.ravel()
    goal = flat.take(begin) + need - _TOLERANCE
    # The last day before it, by ever shorter steps: past the table stands its end.
    before, end = begin - columns, days * columns + where
    for power in reversed(range(days.bit_length())):
        further = before + (columns << power)
        reached = flat.take(np.minimum(further, end)) >= goal
        before = np.where(reached, before, further)
    return np.asarray(np.minimum(before // columns + 1, days))


def degree_days(tmean: npt.ArrayLike, base: float, cap: float) -> FloatArray:
    """Return each day's warmth above the base temperature. [degC day]

    Beyond the cap more heat does not bring the mushrooms any sooner.
    """
    return np.asarray(np.clip(np.asarray(tmean, dtype=float), base, cap) - base)
