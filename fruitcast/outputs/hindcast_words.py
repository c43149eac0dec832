"""The hindcast for the terminal: one listing of the policies for each truth."""

from __future__ import annotations

from typing import Literal

from pydantic import Field
from rich.console import Group, RenderableType
from rich.text import Text

from fruitcast.document import Count, Day, Document, Number
from fruitcast.hindcast.scores import PolicyMeans, PolicySeason
from fruitcast.outputs.listing import Column, Indented, Listing, Row
from fruitcast.units import Units, format_weight
from fruitcast.words import count_words, day_words, percent_words

_COLUMNS = (
    Column("Soaks by"),
    Column("Missing", "right"),
    Column("of all wanted", "right"),
    Column("The plan saves", "right", "the plan saves {} of all wanted"),
    Column("Way to foresight", "right", "{} of the way from the nine-week rotation to foresight"),
    Column("Spoilt", "right", "{} spoilt unsold"),
    Column("Logs soaked", "right", "{} logs soaked"),
    Column("Promises kept", "right", "{} of the promises kept"),
    Column("Promised", "right", "{} of what is wanted promised"),
    Column("First pick in range", "right", "{} of the first picks within the range foreseen"),
    Column("off by", "right", "off by {} on average"),
)

_WAY = (
    "The plan saves: what is missing less what is missing with the plan in the same seasons, in "
    "points of all wanted, give or take the standard error of the mean. Way to foresight: of what "
    "perfect foresight saves over the nine-week rotation, the share that is saved too; below "
    "nought more is missing than with the rotation."
)


class Truth(Document):
    """The policies under one truth."""

    truth: str = Field(description="in words")
    lead_factor: Number = Field(description="of the true season over what the planner believes")
    yield_factor: Number = Field(description="of the true season over what the planner believes")
    learning: bool
    policies: tuple[PolicyMeans, ...]


class Hindcast(Document):
    """What 'hindcast --json' prints.

    The season begins today with the yard as it stands; the past year's days follow. Finished
    seasons are kept in the yard's .hindcast folder and are used again as long as yard, diary,
    weather, options and the model's code are the same.
    """

    today: Day
    weeks: Count
    years: tuple[int, ...] = Field(
        description="each held out of the planner's weather years in turn: leave one out"
    )
    members: Count = Field(description="the other years")
    forecast_days: Count
    promise: Number
    seed: int
    units: Literal["us", "metric"]
    caution: str
    results: tuple[Truth, ...] = Field(description="one entry for each truth")
    seasons: tuple[PolicySeason, ...]
    warnings: tuple[str, ...]


def hindcast_table(document: Hindcast) -> RenderableType:
    """Return a hindcast for reading: for each truth, the policies side by side."""
    units, years = document.units, document.years
    parts: list[RenderableType] = [
        Indented(
            f"The {count_words(document.weeks, 'week')} from "
            f"{day_words(document.today)}, lived through with the weather "
            f"of {count_words(len(years), 'year')} ({years[0]} to {years[-1]}). Each was left out "
            f"in turn of the {count_words(document.members, 'weather year')} planned with, and "
            "every week was planned with what was known by then. Mean of a season.",
            by=0,
        )
    ]
    for result in document.results:
        learning = "" if result.learning else ", planner not learning"
        seasons = count_words(result.policies[0].seasons, "season")
        title = f"\nTruth: {result.truth}{learning}; {seasons}"
        parts += [Text(title, style="bold underline"), _policies(result, units)]
    return Group(*parts, Text(), Indented(_WAY, by=0), Indented(document.caution, by=0))


def _policies(result: Truth, units: Units) -> Listing:
    rows = []
    for policy in result.policies:
        off = policy.first_pick_absolute_error_days
        rows.append(
            Row(
                (
                    policy.policy,
                    format_weight(policy.shortfall_kg, units),
                    _percent(policy.shortfall_share),
                    _saved(policy),
                    _percent(policy.way_to_foresight),
                    format_weight(policy.expired_kg, units),
                    f"{policy.logs_soaked:.0f}",
                    _percent(policy.promises_kept),
                    _percent(policy.promised_share),
                    _percent(policy.first_pick_within),
                    "" if off is None else f"{off:.1f} days",
                )
            )
        )
    return Listing(_COLUMNS, rows)


def _saved(policy: PolicyMeans) -> str:
    """Return what the plan saves in points of all wanted, with its standard error."""
    if policy.plan_saves is None:
        return ""
    error = "" if policy.plan_saves_error is None else f" ± {100 * policy.plan_saves_error:.1f}"
    return f"{100 * policy.plan_saves:.1f}{error}"


def _percent(share: float | None) -> str:
    return "" if share is None else percent_words(share)
