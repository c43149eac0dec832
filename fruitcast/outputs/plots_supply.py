"""Supply against what an outlet wants, sale by sale."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from fruitcast.diary.plan import Sale
from fruitcast.outputs.plots import (
    GRASS,
    INK,
    PALE,
    SOFT,
    STRAW,
    axes_of,
    in_style,
    number,
    show_days,
)
from fruitcast.units import KG_PER_LB, Units

_WIDTHS = {"wanted": 5.6, "likely on average": 3.8, "can be promised": 1.7}
"""Width of a weekly sale's columns, one inside the other, so that they differ in grey too. [day]"""

_FILLS = {"wanted": PALE, "likely on average": STRAW, "can be promised": GRASS}

_ROOM_BESIDE = timedelta(days=3)


@in_style
def plot_supply(
    sales: Sequence[Sale],
    units: Units,
    ax: Axes | None = None,
    *,
    span: tuple[date, date] | None = None,
) -> Axes:
    """Draw what is wanted, likely and promised on each day of one outlet, one inside the other.

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
    wanted = [sale.target_kg / per for sale in sales]
    heights = {
        "wanted": wanted,
        "likely on average": [sale.delivered_kg / per for sale in sales],
        "can be promised": [sale.promise_kg / per for sale in sales],
    }
    for name, high in heights.items():
        ax.bar(
            middle,
            high,
            _WIDTHS[name],
            facecolor=_FILLS[name],
            edgecolor=INK if name == "likely on average" else SOFT,
            linewidth=0.4,
            label=name,
        )
    ax.legend(
        ncols=3,
        loc="lower left",
        bbox_to_anchor=(0, 1.0),
        borderpad=0.4,
        columnspacing=1.0,
        handlelength=1.2,
        handletextpad=0.5,
    )
    first, last = span or (days[0], days[-1])
    show_days(ax, first - _ROOM_BESIDE, last + _ROOM_BESIDE)
    ax.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10]))
    ax.set_ylim(0, 1.08 * (max(wanted) or 1.0))
    ax.set_ylabel("lb" if units == "us" else "kg", rotation=0, ha="right", va="center")
    return ax
