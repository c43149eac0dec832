"""Plots of things side by side: places of a district, ways of deciding, seasons of a programme."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import PercentFormatter

from fruitcast.group.district import PlaceOutlook
from fruitcast.hindcast.scores import PolicySeason
from fruitcast.inoculation.answers import Season
from fruitcast.outputs.district_words import PAYS
from fruitcast.outputs.plots import (
    EARTH,
    GRASS,
    INK,
    PALE,
    SKY,
    SOFT,
    STRAW,
    WIDE,
    axes_of,
    in_style,
    key_above,
    say_unit,
    short_name,
)
from fruitcast.topics import STRAIN_CLASSES
from fruitcast.units import UNIT_OF_WEIGHT, Units
from fruitcast.words import season_words

# Places as rows: how likely a natural flush is there, and how long a soak takes to the pick.

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


# What each way of deciding left unmet, and a programme season by season.

_YEAR_MARKS = "osD^vPX*"


@in_style
def plot_policies(seasons: Sequence[PolicySeason], ax: Axes | None = None) -> Axes:
    """Draw what share of the demand each policy left unmet, year by year and on average."""
    ax = axes_of(ax)
    policies = list(dict.fromkeys(season.policy for season in seasons))
    years = sorted({season.year for season in seasons})
    share = {
        (season.policy, season.year): season.shortfall_kg / season.demand_kg for season in seasons
    }
    rows = range(len(policies))
    means = [sum(share[policy, year] for year in years) / len(years) for policy in policies]
    ax.barh(
        rows, means, 0.6, facecolor=STRAW, edgecolor=INK, hatch="////", linewidth=0.8, label="mean"
    )
    for place, year in enumerate(years):
        ax.plot(
            [share[policy, year] for policy in policies],
            rows,
            _YEAR_MARKS[place % len(_YEAR_MARKS)],
            color=INK,
            markerfacecolor="white",
            markersize=5,
            label=str(year),
        )
    ax.set_yticks(rows, policies)
    ax.set_ylim(len(policies) - 0.4, -0.6)
    ax.set_xlim(0, 1.1 * max([*share.values(), 0.01]))
    ax.xaxis.set_major_formatter(PercentFormatter(1.0, decimals=0))
    ax.set_xlabel("of what the outlets wanted was missing")
    key_above(ax, 4)
    return ax


@in_style
def plot_programme(
    seasons: Sequence[Season], units: Units, ax: Axes | None = None, *, southern: bool = False
) -> Axes:
    """Draw a programme's wanted and sold weight, season by season; `southern` from July on."""
    ax = axes_of(ax)
    unit, per = UNIT_OF_WEIGHT[units]
    years = [season.year for season in seasons]
    ax.bar(
        years,
        [season.target_kg / per for season in seasons],
        0.8,
        facecolor=PALE,
        edgecolor=SOFT,
        linewidth=0.6,
        label="wanted",
    )
    ax.bar(
        years,
        [season.sold_kg / per for season in seasons],
        0.5,
        facecolor=STRAW,
        edgecolor=INK,
        linewidth=0.6,
        label="sold, mean",
    )
    ax.vlines(
        years,
        [season.sold_p10_kg / per for season in seasons],
        [season.sold_p90_kg / per for season in seasons],
        color=GRASS,
        linewidth=2,
        label="8 of 10 weather years",
    )
    ax.set_xticks(years, [season_words(year, southern=southern) for year in years])
    say_unit(ax, unit)
    ax.set_ylim(0, None)
    key_above(ax, 3)
    return ax


@in_style
def plot_logs(seasons: Sequence[Season], ax: Axes | None = None, *, southern: bool = False) -> Axes:
    """Draw how many logs stand in each season: bearing, still in their spawn run, just made.

    Parameters as in `plot_programme`.
    """
    ax = axes_of(ax)
    years = [season.year for season in seasons]
    made = [season.inoculated_logs for season in seasons]
    running = [season.spawn_run_logs - season.inoculated_logs for season in seasons]
    bearing = [season.bearing_logs for season in seasons]
    floor = [0] * len(years)
    for counts, label, face, hatch in (
        (bearing, "bearing", PALE, ""),
        (running, "in the spawn run", "white", "//////"),
        (made, "inoculated this season", SKY, "xxx"),
    ):
        ax.bar(
            years,
            counts,
            0.7,
            floor,
            facecolor=face,
            edgecolor=SOFT if hatch else EARTH,
            hatch=hatch,
            linewidth=0.8,
            label=label,
        )
        floor = [low + count for low, count in zip(floor, counts, strict=True)]
    ax.set_xticks(years, [season_words(year, southern=southern) for year in years])
    say_unit(ax, "logs")
    key_above(ax, 3)
    return ax
