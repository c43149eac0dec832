"""What is usual at a place on each day of the year, as a record has it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fruitcast.weather.daily import DailyWeather, FloatArray, Source

YEAR = 366

FEWEST_KNOWN = 20
"""Days from which something is said of what is usual. [day]"""


@dataclass(frozen=True)
class Normals:
    """What is usual on each day of the year, from 1 January on, in a record."""

    # (366,): mean and standard deviation of daily mean temperature within a fortnight; NaN where
    # too few days are known [degC]
    tmean: FloatArray
    spread: FloatArray
    years: FloatArray  # (366,): how many years know it [year]
    # (366,): mean of highest less lowest temperature within a fortnight; NaN where too few days
    # are known [degC]
    span: FloatArray
    # (366,): mean rain of days with rain, and of all days, within six weeks; NaN where too few
    # are known [mm/day]
    wet: FloatArray
    rain: FloatArray
    most: float  # the largest fall of one day; NaN where none is known [mm/day]
    tenths: bool  # whether rain is given to the tenth of a millimetre and no finer


def normals_of(known: DailyWeather) -> Normals:
    """Return what is usual in a record, as it was observed."""
    at = days_of_year(known)
    warm = (known.sources["tmean"] == Source.OBSERVED) & np.isfinite(known.tmean)
    days, first, second = (
        _around(np.bincount(at[warm], weights=known.tmean[warm] ** power, minlength=YEAR), 15)
        for power in (0, 1, 2)
    )
    spans = np.where(warm, known.tmax - known.tmin, np.nan)
    both = np.isfinite(spans)
    told, apart = (
        _around(np.bincount(at[both], weights=spans[both] ** power, minlength=YEAR), 15)
        for power in (0, 1)
    )
    gauged = (known.sources["rain"] == Source.OBSERVED) & np.isfinite(known.rain)
    gauge_days = _around(np.bincount(at[gauged], minlength=YEAR), 45)
    wet = gauged & (np.nan_to_num(known.rain) > 0.0)
    falls, fallen = (
        _around(np.bincount(at[wet], weights=known.rain[wet] ** power, minlength=YEAR), 45)
        for power in (0, 1)
    )
    rain = known.rain[wet]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(days >= FEWEST_KNOWN, first / days, np.nan)
        spread = np.sqrt(np.maximum(second / days - mean**2, 0.0))
        span = np.where(told >= FEWEST_KNOWN, apart / told, np.nan)
        usual = np.where(falls >= FEWEST_KNOWN, fallen / falls, np.nan)
        daily = np.where(gauge_days >= FEWEST_KNOWN, fallen / gauge_days, np.nan)
    return Normals(
        mean,
        spread,
        days / 31.0,
        span,
        usual,
        daily,
        float(rain.max()) if len(rain) >= FEWEST_KNOWN else np.nan,
        len(rain) >= FEWEST_KNOWN and float(finer_than_tenths(rain).mean()) < 0.02,
    )


def finer_than_tenths(rain: FloatArray) -> npt.NDArray[np.bool_]:
    """Return where rain is told finer than to the tenth of a millimetre."""
    return np.asarray(np.abs(rain * 10.0 - np.round(rain * 10.0)) > 1e-6)


def days_of_year(weather: DailyWeather) -> npt.NDArray[np.int64]:
    """Return each row's day of the year, 0 for 1 January."""
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    found: npt.NDArray[np.int64] = (days - days.astype("datetime64[Y]")).astype(np.int64)
    return found


def _around(sums: npt.NDArray[np.generic], reach: int) -> FloatArray:
    """Return sums over the days of the year within `reach` days, round the turn of the year."""
    ring = np.concatenate([sums[-reach:], sums, sums[:reach]])
    return np.convolve(ring, np.ones(2 * reach + 1), mode="valid")
