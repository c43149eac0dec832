"""The moisture of one stack's logs, with marks for water given."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
from matplotlib.axes import Axes

from fruitcast.outputs.plots import (
    EARTH,
    GRASS,
    INK,
    SKY,
    SOFT,
    axes_of,
    in_style,
    number,
    numbers_of,
    short_name,
    show_days,
)
from fruitcast.outputs.report_data import MoistureCourse

LOW, HIGH = 20.0, 55.0
"""Ends of the axis, unless the logs were drier or wetter. [% wet]"""

KEY = (
    ("▼", "soaked"),
    ("▲", "watered"),
    ("△", "watering taken as given, the diary being silent"),
    ("●", "sample log weighed"),
    ("– –", "water below this line"),
    ("· · ·", "spawn does not survive below this one"),
)
"""Marks and what they mean."""


@in_style
def plot_moisture(course: MoistureCourse, ax: Axes | None = None) -> Axes:
    """Draw how wet a stack's logs have been; the marks are explained by `KEY`.

    Parameters
    ----------
    course : MoistureCourse
        The stack's past weeks.
    ax : Axes, optional
        Where to draw; a new figure otherwise.
    """
    ax = axes_of(ax)
    last = course.today - timedelta(days=1)
    days = number(course.first) + np.arange(len(course.wet)) + 0.5
    percent = 100 * course.wet
    known = percent[np.isfinite(percent)]
    low = min([LOW, *(known - 2)])
    high = max([HIGH, *(known + 2), *(100 * wet + 2 for _, wet in course.weighed)])
    ax.plot(days, percent, "-", color=GRASS, linewidth=1.3, label="moisture")
    if course.keep_above is not None:
        ax.axhline(100 * course.keep_above, color=INK, linewidth=0.8, linestyle=(0, (5, 3)))
    ax.axhline(100 * course.dead_below, color=EARTH, linewidth=1.0, linestyle=(0, (1, 1.5)))
    band = high - low
    _row(ax, [on for on, _ in course.watered], low + 0.06 * band, "^", SKY, SKY, "watered")
    _row(ax, [on for on, _ in course.assumed], low + 0.06 * band, "^", SKY, "white", "assumed")
    _row(ax, course.soaked, high - 0.06 * band, "v", INK, INK, "soaked")
    if course.weighed:
        on, wet = zip(*course.weighed, strict=True)
        ax.plot(
            [day + 0.5 for day in numbers_of(on)],
            [100 * value for value in wet],
            "o",
            color=INK,
            markersize=3.5,
            markerfacecolor="white",
            label="weighed",
        )
    show_days(ax, course.first, last, mondays=False)
    ax.set_ylim(low, high)
    ax.set_yticks([v for v in (20, 30, 40, 50, 60, 70, 80) if low <= v <= high])
    ax.yaxis.set_major_formatter(lambda value, _: f"{value:.0f}%")
    ax.grid(axis="y", color=SOFT, linewidth=0.3, alpha=0.5)
    now = f": {known[-1]:.0f}%" if len(known) else ""
    ax.set_title(f"{short_name(course.stack)}{now}", loc="left", pad=3, parse_math=False)
    return ax


def _row(
    ax: Axes, days: Sequence[date], height: float, marker: str, edge: str, face: str, label: str
) -> None:
    if days:
        ax.plot(
            [day + 0.5 for day in numbers_of(days)],
            [height] * len(days),
            marker,
            color=edge,
            markerfacecolor=face,
            markersize=4,
            markeredgewidth=0.8,
            label=label,
        )
