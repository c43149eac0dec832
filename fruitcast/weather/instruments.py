"""Whether temperatures are those of an instrument that works, with nothing filled in by hand.

A sensor that hangs tells one value day after day, one that is dead tells zero, and a table filled
downwards repeats its last row. Weather does none of this: to the tenth of a degree hardly two
days in a row are alike.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fruitcast.weather.daily import DailyWeather, FloatArray
from fruitcast.weather.faultlist import Question
from fruitcast.weather.fill import count_days, list_days

_ALIKE, _ALIKE_WHOLE = 3, 6
"""Days in a row with the same lowest and highest temperature, told in tenths and in whole
degrees, from which they are asked about. Judgement: where one day is like another whole degrees
repeat by chance. [day]"""

_ONE_ALIKE, _ONE_ALIKE_WHOLE = 5, 10
"""The same of one of the two."""

_FEW = 0.002
"""Share of a record's days that may be alike: in decades some are. Judgement. [0..1]"""

_EMPTY = "correct them, or leave the cells empty if nobody knows"

BoolArray = npt.NDArray[np.bool_]


def questions_of_instruments(weather: DailyWeather) -> list[Question]:
    """Return what to ask about temperatures that no instrument should give."""
    level = _of_level_days(weather)
    if level is not None:
        return [level]
    stuck = _of_stuck(weather)
    return [] if stuck is None else [stuck]


def _of_level_days(weather: DailyWeather) -> Question | None:
    """Ask about days whose lowest temperature is their highest."""
    with np.errstate(invalid="ignore"):
        level = weather.tmin == weather.tmax
    days = int(level.sum())
    known = int((np.isfinite(weather.tmin) & np.isfinite(weather.tmax)).sum())
    zero = bool((level & (weather.tmin == 0.0)).any())
    whole = _in_whole_degrees(weather)
    if not days or (whole and (days < 3 or days < 0.1 * known)):
        return None
    if not whole and not zero and (days < 2 or days < 0.02 * known):
        return None
    return Question(
        f"on {count_days(days)} the lowest temperature is the highest too, "
        f"{list_days(weather, level, 3)}",
        f"This looks like zeros for missing values, means in both columns or a dead sensor: "
        f"{_EMPTY}",
    )


def _of_stuck(weather: DailyWeather) -> Question | None:
    """Ask about days in a row that are alike."""
    whole = _in_whole_degrees(weather)
    low, high = _as_before(weather.tmin), _as_before(weather.tmax)
    stuck = _in_runs(low & high, _ALIKE_WHOLE if whole else _ALIKE)
    for one in (low, high):
        stuck |= _in_runs(one, _ONE_ALIKE_WHOLE if whole else _ONE_ALIKE)
    if stuck.sum() <= _FEW * np.isfinite(weather.tmean).sum():
        return None
    return Question(
        f"temperatures are the same day after day, {list_days(weather, stuck, 3)}",
        "This looks like a sensor that hangs, or a gap that was filled with the day before it or "
        f"with a mean: {_EMPTY}",
    )


def _in_whole_degrees(weather: DailyWeather) -> bool:
    """Return whether temperatures are in whole degrees, of C or F."""
    values = np.concatenate([weather.tmin, weather.tmax])
    values = values[np.isfinite(values)]
    # Fahrenheit is often told in C to the tenth.
    return any(
        float((np.abs(scale - np.round(scale)) < rounded).mean()) > 0.9
        for scale, rounded in ((values, 1e-3), (values * 1.8, 0.091))
        if len(scale)
    )


def _as_before(column: FloatArray) -> BoolArray:
    """Return the days that have the value of the day before."""
    found = np.zeros(len(column), dtype=bool)
    found[1:] = column[1:] == column[:-1]
    return found


def _in_runs(as_before: BoolArray, days: int) -> BoolArray:
    """Return the days in runs of at least so many days alike, the first of them included."""
    found = np.zeros(len(as_before), dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], as_before.astype(np.int8), [0]])))
    for first, past in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if past - first + 1 >= days:
            found[first - 1 : past] = True
    return found
