"""Whether temperatures are those of an instrument that works, with nothing filled in by hand.

A sensor that hangs tells one value day after day, one that is dead tells zero, and a table filled
downwards repeats its last row. Weather does none of this: to the tenth of a degree hardly two
days in a row are alike.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.tables.faults import Question
from fruitcast.weather.daily import DailyWeather, FloatArray, Source
from fruitcast.weather.table import count_days, list_days

_ALIKE, _ALIKE_WHOLE = 3, 6
"""Days in a row with the same lowest and highest temperature, told in tenths and in whole
degrees, from which they are asked about. Judgement: where one day is like another whole degrees
repeat by chance. [day]"""

_ONE_ALIKE, _ONE_ALIKE_WHOLE = 5, 10
"""The same of one of the two."""

_FEW = 0.002
"""Share of a record's days that may be alike: in decades some are. Judgement. [0..1]"""

_FEWEST_COPIED, _MOSTLY_COPIED = 10, 0.5
"""Days that are those of another year from which it is asked about, and their share. Judgement."""

_FEWEST_STEPS, _JUMP = 10, 9.0
"""Days from which their changes are told, and a mean change twice that of the roughest climates.
Judgement. [day], [degC]"""

_EMPTY = "correct them, or leave the cells empty if nobody knows"

BoolArray = npt.NDArray[np.bool_]


def questions_of_instruments(weather: DailyWeather) -> list[Question]:
    """Return what to ask about temperatures that no instrument should give."""
    for asked in (_of_level_days, _of_stuck, _of_jumps):
        if (question := asked(weather)) is not None:
            return [question]
    return []


def of_copied_days(weather: DailyWeather, known: DailyWeather | None) -> Question | None:
    """Ask about days that are those of another year, in the table or in what is known."""
    mine = _days_alike(weather)
    parts = [mine]
    if known is not None:
        # What is known of the table's own days is no copy.
        past_all = max(known.end, weather.end) + timedelta(days=1)
        before = known.cut(known.start, weather.start)
        after = known.cut(weather.end + timedelta(days=1), past_all)
        parts += [_days_alike(before), _days_alike(after)]
    _, at, counts = np.unique(
        np.concatenate(parts), axis=0, return_inverse=True, return_counts=True
    )
    copied = int((counts[at.ravel()[: len(mine)]] > 1).sum())
    if copied < _FEWEST_COPIED or copied < _MOSTLY_COPIED * len(mine):
        return None
    return Question(
        f"{count_days(copied)} have the temperatures of the same calendar days of another year",
        "This looks like a year copied from another or with the wrong year in its dates: see whose "
        "days they are",
    )


def _days_alike(weather: DailyWeather) -> npt.NDArray[np.int64]:
    """Return calendar day, lowest and highest temperature of each day that was observed."""
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    months = days.astype("datetime64[M]")
    there = (weather.sources["tmin"] == Source.OBSERVED) & np.isfinite(weather.tmin)
    there &= (weather.sources["tmax"] == Source.OBSERVED) & np.isfinite(weather.tmax)
    parts = (
        months.astype(int) % 12,
        (days - months).astype(int),
        np.round(np.nan_to_num(weather.tmin) * 100.0),
        np.round(np.nan_to_num(weather.tmax) * 100.0),
    )
    table: npt.NDArray[np.int64] = np.stack([part.astype(np.int64) for part in parts], axis=1)
    return np.asarray(table[there])


def _of_jumps(weather: DailyWeather) -> Question | None:
    """Ask about temperatures that jump from day to day as no weather does."""
    steps = np.abs(np.diff(weather.tmean))
    steps = steps[np.isfinite(steps)]
    if len(steps) < _FEWEST_STEPS or float(steps.mean()) < _JUMP:
        return None
    return Question(
        f"temperatures change by {steps.mean():.0f} C from one day to the next on average",
        "This looks like two units in one column, or rows in a wrong order: see where they change",
    )


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
