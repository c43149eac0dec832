"""Supply against what an outlet wants, sale by sale."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from fruitcast.publish.plots import GRASS, INK, STRAW, axes_of, in_style, number, show_days
from fruitcast.units import KG_PER_LB, Units
from fruitcast.yard.plan import Sale

ROOM_ABOVE = 1.6
"""The axis ends at so many times the largest target: what lies above is only pointed at."""

_BAR_DAYS = 5.4
"""Width of a weekly sale's bar. [day]"""

_ROOM_BESIDE = timedelta(days=3)


@in_style
def plot_supply(
    sales: Sequence[Sale],
    units: Units,
    ax: Axes | None = None,
    *,
    span: tuple[date, date] | None = None,
) -> Axes:
    """Draw what is wanted, promised and likely on hand on each day of one outlet.

    A frame is what is wanted, its hatched part what can be promised; the line spans what is on
    hand in 8 of 10 weather years (an arrow at its end: and more), and the mark is what is delivered
    on average.

    Parameters
    ----------
    sales : sequence of Sale
        Of a plan, at least one.
    units : {'us', 'metric'}
        What people see.
    ax : Axes, optional
        Where to draw; a new figure otherwise.
    span : (date, date), optional
        First and last day of the axis; otherwise those of the sales.
    """
    ax = axes_of(ax, height=2.1)
    per = KG_PER_LB if units == "us" else 1.0
    days = [sale.on for sale in sales]
    middle = [number(day) + 0.5 for day in days]
    wanted, promised, mean, low, high = (
        [getattr(sale, key) / per for sale in sales]
        for key in (
            "target_kg",
            "promise_kg",
            "delivered_kg",
            "available_p10_kg",
            "available_p90_kg",
        )
    )
    top = ROOM_ABOVE * (max(wanted) or 1.0)
    ax.bar(middle, wanted, _BAR_DAYS, facecolor="white", edgecolor=INK, label="wanted")
    ax.bar(
        middle,
        promised,
        _BAR_DAYS,
        facecolor=STRAW,
        edgecolor=INK,
        hatch="////",
        linewidth=0.9,
        label="promise",
    )
    ends = [min(value, 0.97 * top) for value in high]
    starts = [min(value, end) for value, end in zip(low, ends, strict=True)]
    # The halo stays within the bar, or the frames would lose their tops.
    ax.vlines(middle, starts, ends, color="white", linewidth=2.2)
    ax.vlines(middle, starts, ends, color=GRASS, linewidth=1.1, label="on hand, 8 of 10 years")
    over = [(x, end) for x, end, value in zip(middle, ends, high, strict=True) if value > end]
    if over:
        ax.plot(*zip(*over, strict=True), "^", color=GRASS, markersize=3.5)
    ax.plot(
        middle,
        mean,
        "D",
        color=INK,
        markersize=3,
        markerfacecolor="white",
        markeredgewidth=0.8,
        label="delivered, mean",
    )
    ax.legend(
        ncols=2,
        loc="lower left",
        bbox_to_anchor=(0, 1.0),
        borderpad=0.4,
        columnspacing=1.0,
        labelspacing=0.3,
    )
    first, last = span or (days[0], days[-1])
    show_days(ax, first - _ROOM_BESIDE, last + _ROOM_BESIDE)
    ax.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10]))
    ax.set_ylim(0, top)
    ax.set_ylabel("lb" if units == "us" else "kg", rotation=0, ha="right", va="center")
    return ax
