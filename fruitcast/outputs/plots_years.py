"""Years side by side: what each way of deciding left unmet, and a programme season by season."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.ticker import PercentFormatter

from fruitcast.hindcast.scores import PolicySeason
from fruitcast.inoculation.programme_years import SeasonSummary
from fruitcast.outputs.plots import EARTH, GRASS, INK, PALE, SKY, SOFT, STRAW, axes_of, in_style
from fruitcast.units import KG_PER_LB, Units

_MARKS = "osD^vPX*"


@in_style
def plot_policies(seasons: Sequence[PolicySeason], ax: Axes | None = None) -> Axes:
    """Draw what share of the demand each policy left unmet, year by year and on average.

    Parameters
    ----------
    seasons : sequence of PolicySeason
        The seasons lived through.
    ax : Axes, optional
        Where to draw; a new figure otherwise.
    """
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
            _MARKS[place % len(_MARKS)],
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
    ax.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=4, borderpad=0.4)
    return ax


@in_style
def plot_programme(seasons: Sequence[SeasonSummary], units: Units, ax: Axes | None = None) -> Axes:
    """Draw a programme's wanted and sold weight, season by season.

    Parameters
    ----------
    seasons : sequence of SeasonSummary
        In order.
    units : {'us', 'metric'}
        What people see.
    ax : Axes, optional
        Where to draw; a new figure otherwise.
    """
    ax = axes_of(ax)
    per = KG_PER_LB if units == "us" else 1.0
    years = [season.season for season in seasons]
    ax.bar(
        years,
        [season.target / per for season in seasons],
        0.8,
        facecolor=PALE,
        edgecolor=SOFT,
        linewidth=0.6,
        label="wanted",
    )
    ax.bar(
        years,
        [season.sold / per for season in seasons],
        0.5,
        facecolor=STRAW,
        edgecolor=INK,
        linewidth=0.6,
        label="sold, mean",
    )
    ax.vlines(
        years,
        [season.sold_low / per for season in seasons],
        [season.sold_high / per for season in seasons],
        color=GRASS,
        linewidth=2,
        label="8 of 10 weather years",
    )
    ax.set_xticks(years)
    ax.set_ylabel("lb" if units == "us" else "kg", rotation=0, ha="right", va="center")
    ax.set_ylim(0, None)
    ax.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, borderpad=0.4)
    return ax


@in_style
def plot_logs(seasons: Sequence[SeasonSummary], ax: Axes | None = None) -> Axes:
    """Draw how many logs stand in each season: bearing, still in their spawn run, just made.

    Parameters as in `plot_programme`.
    """
    ax = axes_of(ax)
    years = [season.season for season in seasons]
    made = [season.inoculated for season in seasons]
    running = [season.idle - season.inoculated for season in seasons]
    bearing = [season.bearing for season in seasons]
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
    ax.set_xticks(years)
    ax.set_ylabel("logs", rotation=0, ha="right", va="center")
    ax.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, borderpad=0.4)
    return ax
