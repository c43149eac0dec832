"""Plots of weather with its fan of past years."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from fruitcast.arrays import FloatArray
from fruitcast.outputs.plots import (
    EARTH,
    GRASS,
    INK,
    PALE,
    SKY,
    SOFT,
    STRAW,
    axes_of,
    in_style,
    key_above,
    mark_today,
    number,
    say_unit,
    show_days,
)
from fruitcast.outputs.report_data import WeatherCourse
from fruitcast.topics import StrainClass, StrainRange
from fruitcast.units import UNIT_OF_RAIN, Units, fahrenheit

_SIDE = 0.26
"""Width of the strip of fruiting ranges beside the temperatures, of the axes'."""


_FAN: Any = {
    "facecolor": PALE,
    "edgecolor": SOFT,
    "hatch": "\\\\\\\\",
    "linewidth": 0.6,
}


@in_style
def plot_temperature(
    course: WeatherCourse,
    ranges: Mapping[StrainClass, StrainRange],
    units: Units,
    ax: Axes | None = None,
) -> Axes:
    """Draw daily means, forecast and the fan of past years, each class's fruiting range beside."""
    ax = axes_of(ax)
    past = (course.today - course.first).days
    begin = number(course.first)
    seen = begin + np.arange(past) + 0.5
    shown = _degrees(course.tmean, units)
    ax.plot(seen, shown[:past], "-", color=INK, linewidth=1.0, label="observed")
    if course.filled.any():
        ax.plot(
            seen[course.filled],
            shown[:past][course.filled],
            "s",
            color=EARTH,
            markerfacecolor="white",
            markersize=3,
            label="filled in",
        )
    if course.forecast_days:
        told = begin + past + np.arange(course.forecast_days) + 0.5
        ax.plot(told, shown[past:], "x--", color=EARTH, markersize=3, linewidth=1, label="forecast")
    low, middle, high = _degrees(course.fan_tmean, units)
    # Each week's mean stands at its middle; the ends are drawn out to its days.
    weeks = np.arange(len(middle))
    days = number(course.today) + 7 * weeks + 3.5
    days[0], days[-1] = days[0] - 3.5, days[-1] + 3.5
    ax.fill_between(
        days,
        low,
        high,
        label=f"8 of 10 of {course.years} years",
        **_FAN,
    )
    ax.plot(days, middle, "-", color=GRASS, linewidth=1.6, label="middle year")
    show_days(ax, course.first, course.last)
    bottom = min(
        [np.nanmin(shown), low.min(), *(_degrees(r.lower, units) for r in ranges.values())]
    )
    top = max([np.nanmax(shown), high.max(), *(_degrees(r.upper, units) for r in ranges.values())])
    ax.set_ylim(bottom - 0.04 * (top - bottom), top + 0.04 * (top - bottom))
    say_unit(ax, "°F" if units == "us" else "°C")
    ax.grid(axis="y", color=SOFT, linewidth=0.3, alpha=0.5)
    mark_today(ax, course.today, "")
    key_above(ax, 2, columnspacing=1.0)
    if ranges:
        _ranges(ax, ranges, units)
    return ax


def _ranges(ax: Axes, ranges: Mapping[StrainClass, StrainRange], units: Units) -> None:
    side = ax.inset_axes((1.02, 0.0, _SIDE, 1.0), sharey=ax)
    for place, known in enumerate(ranges.values()):
        lower, best_low, best_high, upper = (float(_degrees(value, units)) for value in known)
        side.bar(place, upper - lower, 0.5, lower, facecolor="white", edgecolor=INK, linewidth=0.8)
        side.bar(
            place,
            best_high - best_low,
            0.5,
            best_low,
            facecolor=STRAW,
            edgecolor=INK,
            hatch="////",
            linewidth=0.8,
        )
    names = [name.split("-")[0] for name in ranges]
    side.set_xticks(range(len(ranges)), names, rotation=90)
    side.set_xlim(-0.6, len(ranges) - 0.4)
    side.tick_params(axis="y", left=False, labelleft=False)
    side.tick_params(axis="x", length=0, pad=2)
    for spine in side.spines.values():
        spine.set_visible(False)
    side.set_title("fruits at", fontsize=7.5, pad=2)


@in_style
def plot_rain(course: WeatherCourse, units: Units, ax: Axes | None = None) -> Axes:
    """Draw the rain of each week: fallen, and what past years had in the weeks to come.

    Parameters as in `plot_temperature`.
    """
    ax = axes_of(ax, height=1.6)
    unit, per = UNIT_OF_RAIN[units]
    weeks = [number(course.first) + 7 * k + 3.5 for k in range(len(course.rain))]
    ax.bar(weeks, course.rain / per, 5, facecolor=SKY, edgecolor=INK, linewidth=0.6, label="fallen")
    low, middle, high = course.fan_rain / per
    coming = [number(course.today) + 7 * k + 3.5 for k in range(len(middle))]
    ax.bar(
        coming,
        high - low,
        5,
        low,
        label=f"8 of 10 of {course.years} years",
        **_FAN,
    )
    ax.plot(
        coming, middle, "_", color=GRASS, markersize=6, markeredgewidth=1.6, label="middle year"
    )
    if course.forecast_days:
        end = course.today + timedelta(days=course.forecast_days)
        ax.axvspan(
            number(course.today),
            number(end),
            facecolor="none",
            edgecolor=EARTH,
            linewidth=0.8,
            linestyle="--",
            label="forecast days",
        )
    show_days(ax, course.first, course.last)
    ax.set_ylim(0, None)
    say_unit(ax, unit)
    mark_today(ax, course.today, "")
    key_above(ax, 2, columnspacing=1.0)
    return ax


def _degrees(celsius: float | FloatArray, units: Units) -> FloatArray:
    return np.asarray(fahrenheit(celsius) if units == "us" else celsius)  # type: ignore[arg-type]
