"""Closing gaps in daily weather: short ones from their neighbours, others from other places.

Whatever is put in is flagged `Source.FILLED` and told in the notes. Rain is never made up from
its neighbours: a day without a reading may have been the wettest of the month.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.weather.daily import VARIABLES, DailyWeather, FloatArray, Source
from fruitcast.weather.rawtable import derive_mean
from fruitcast.weather.units import TEMPERATURES

LONGEST_GAP = 3
"""Days of temperature that may be interpolated; over more, weather changes. Judgement. [day]"""


def fill_gaps(weather: DailyWeather) -> DailyWeather:
    """Return the weather with gaps of temperature of up to three days interpolated.

    Only gaps between two known days are closed. To keep hindsight out, cut the table at today
    first (`known.as_known_on`).
    """
    values = {name: column.copy() for name, column in weather.values.items()}
    sources = {name: column.copy() for name, column in weather.sources.items()}
    touched = np.zeros(weather.days, dtype=bool)
    for name in ("tmin", "tmax"):
        touched |= _interpolate(values[name], sources[name])
    crossed = touched & (values["tmin"] > values["tmax"])
    for name, other in (("tmin", "tmax"), ("tmax", "tmin")):
        bent = crossed & (sources[name] == Source.FILLED)
        values[name][bent] = values[other][bent]
    derive_mean(values, sources)
    touched |= _interpolate(values["tmean"], sources["tmean"])
    if not touched.any():
        return weather
    note = (
        f"Temperature was interpolated on {count_days(int(touched.sum()))} in gaps of up to "
        f"{LONGEST_GAP} days: {list_days(weather, touched)}."
    )
    return replace(weather, values=values, sources=sources, notes=(*weather.notes, note))


def merge(first: DailyWeather, others: Sequence[DailyWeather]) -> DailyWeather:
    """Return the first table with its gaps filled from others, in their order.

    Lowest and highest temperature of a day are taken from one place together where both are
    wanting or where they would cross. A forecast stays a forecast; all else taken over is
    flagged as filled.
    """
    merged = first
    for other in others:
        merged = _fill_from(merged, other)
    return merged


def _fill_from(first: DailyWeather, other: DailyWeather) -> DailyWeather:
    start = min(first.start, other.start)
    end = max(first.end, other.end)
    first, other = stretched(first, start, end), stretched(other, start, end)
    values = {name: column.copy() for name, column in first.values.items()}
    sources = {name: column.copy() for name, column in first.sources.items()}
    taken = {}
    for name in VARIABLES:
        gap = np.isnan(values[name]) & np.isfinite(other.values[name])
        values[name][gap] = other.values[name][gap]
        sources[name][gap] = _as_filled(other.sources[name][gap])
        taken[name] = gap
    crossed = values["tmin"] > values["tmax"]
    for name in TEMPERATURES:
        values[name][crossed] = other.values[name][crossed]
        sources[name][crossed] = _as_filled(other.sources[name][crossed])
    temperature, rain = (taken["tmin"] | taken["tmax"]), taken["rain"]
    if not temperature.any() and not rain.any():
        return first
    note = (
        f"Gaps were filled from {other.origin or 'another place'}: temperature on "
        f"{count_days(int(temperature.sum()))}, rain on {count_days(int(rain.sum()))}."
    )
    credits_ = dict.fromkeys(line for line in (first.attribution, other.attribution) if line)
    return replace(
        first,
        values=values,
        sources=sources,
        attribution="; ".join(credits_),
        notes=(*first.notes, *other.notes, note),
    )


def stretched(weather: DailyWeather, start: date, end: date) -> DailyWeather:
    """Return the table made longer, with missing days, so that it reaches from start to end."""
    before = max((weather.start - start).days, 0)
    after = max((end - weather.end).days, 0)
    if not before and not after:
        return weather
    return replace(
        weather,
        start=weather.start - timedelta(days=before),
        values={
            name: np.pad(column, (before, after), constant_values=np.nan)
            for name, column in weather.values.items()
        },
        sources={
            name: np.pad(column, (before, after), constant_values=Source.MISSING)
            for name, column in weather.sources.items()
        },
    )


def count_days(number: int) -> str:
    """Return a number of days in words."""
    return f"{number} day" if number == 1 else f"{number} days"


def list_days(weather: DailyWeather, chosen: npt.NDArray[np.bool_], most: int = 6) -> str:
    """Return the first few of the chosen days, and how many more there are."""
    rows = np.flatnonzero(chosen).tolist()
    words = ", ".join(weather.day(row).isoformat() for row in rows[:most])
    return words if len(rows) <= most else f"{words} and {len(rows) - most} more"


def _as_filled(codes: npt.NDArray[np.int8]) -> npt.NDArray[np.int8]:
    return np.where(codes == Source.OBSERVED, Source.FILLED, codes).astype(np.int8)


def _interpolate(column: FloatArray, source: npt.NDArray[np.int8]) -> npt.NDArray[np.bool_]:
    """Close the short gaps of one column in place; return which days were filled."""
    gap = np.isnan(column)
    known = np.flatnonzero(~gap)
    if not gap.any() or len(known) < 2:
        return np.zeros_like(gap)
    rows = np.arange(len(column))
    after = np.searchsorted(known, rows)
    inside = gap & (after > 0) & (after < len(known))
    length = known[np.minimum(after, len(known) - 1)] - known[np.maximum(after - 1, 0)] - 1
    short = inside & (length <= LONGEST_GAP)
    column[short] = np.round(np.interp(rows[short], known, column[known]), 2)
    source[short] = Source.FILLED
    return short
