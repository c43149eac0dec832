"""Places as rows: how likely a natural flush is there, and how long a soak takes to the pick."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fruitcast.group.district import PlaceOutlook
from fruitcast.outputs.district_words import PAYS
from fruitcast.outputs.plots import EARTH, GRASS, INK, PALE, SKY, WIDE, in_style, short_name
from fruitcast.topics import STRAIN_CLASSES

_MARKS: dict[str, tuple[str, str]] = dict(
    zip(STRAIN_CLASSES, ((SKY, "s"), (GRASS, "o"), (EARTH, "^")), strict=True)
)
"""Colour and shape of each class."""

_ROW, _ABOVE = 0.3, 0.9
"""Height of a place's row, and of title and axis together. [inch]"""


@in_style
def district_figure(places: Sequence[PlaceOutlook]) -> Figure:
    """Return the figure of a district; places of which nothing is known are left out."""
    told = [place for place in places if place.classes]
    fig = Figure((WIDE, _ABOVE + _ROW * len(told)), layout="constrained")
    left, right = fig.subplots(1, 2, sharey=True)
    natural_chances(told, left)
    soak_days(told, right)
    handles, names = left.get_legend_handles_labels()
    fig.legend(handles, names, loc="outside upper center", ncols=len(names))
    return fig


def natural_chances(places: Sequence[PlaceOutlook], ax: Axes) -> Axes:
    """Draw the chance of a natural flush within three weeks, a mark for each class."""
    for name, (colour, shape) in _MARKS.items():
        chances = [100 * place.of(name).natural_chance for place in places]
        at = [row + _apart(name) for row in range(len(places))]
        ax.plot(chances, at, shape, color=colour, markeredgecolor=INK, label=name, markersize=5)
    _rows(places, ax)
    ax.set_xlim(-4, 104)
    ax.set_xlabel("chance of a natural flush within 3 weeks, %")
    return ax


def soak_days(places: Sequence[PlaceOutlook], ax: Axes) -> Axes:
    """Draw the days from a soak of this week to the first pick: middle, and 80 % range."""
    for name, (colour, shape) in _MARKS.items():
        for row, place in enumerate(places):
            one = place.of(name)
            days = one.soak_days
            if days is None or one.soak_comes < PAYS:
                continue
            at = row + _apart(name)
            ax.plot([days.p10, days.p90], [at, at], color=colour, linewidth=1.6)
            ax.plot([days.p50], [at], shape, color=colour, markeredgecolor=INK, markersize=5)
    _rows(places, ax)
    ax.set_xlim(left=0)
    ax.set_xlabel("days from a soak this week to the first pick")
    return ax


def _apart(name: str) -> float:
    return 0.25 * ([*_MARKS].index(name) - 1)


def _rows(places: Sequence[PlaceOutlook], ax: Axes) -> None:
    for row in range(0, len(places), 2):
        ax.axhspan(row - 0.5, row + 0.5, color=PALE, zorder=0)
    ax.set_yticks(range(len(places)), [short_name(place.place) for place in places])
    ax.set_ylim(len(places) - 0.5, -0.5)
