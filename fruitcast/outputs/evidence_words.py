"""How well plans do, in sentences and rows: foretold on this yard, or lived through again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field
from rich.console import Group, RenderableType
from rich.text import Text

from fruitcast.diary.kept_plan import LEAST_OUTCOMES
from fruitcast.document import Count, Day, Document, Number
from fruitcast.forecast.outcome_scores import (
    FirstPicks,
    Foretelling,
    Happened,
    InRange,
    Lead,
    Promises,
    Weights,
)
from fruitcast.hindcast.scores import PolicyMeans, PolicySeason
from fruitcast.outputs.listing import Column, Indented, Listing, Row, title
from fruitcast.outputs.plan_words import yield_words
from fruitcast.outputs.report_parts import WordTable
from fruitcast.units import Units, format_weight
from fruitcast.words import count_words, day_words, percent_words, share_words

COLUMNS = ("What", "Told before", "Outcomes", "Came true", "Should have", "Beside it")
"""Of the table in the terminal and in the report."""

TOO_FEW = "too few to say"

_SPANS = {7: "up to a week", 14: "1 to 2 weeks", 28: "2 to 4 weeks"}


def foretold_lines(found: Foretelling, units: Units) -> tuple[str, ...]:
    """Return what matters most of how well it was foretold, a sentence each."""
    return tuple(_lines(found, units))


def foretold_rows(found: Foretelling, units: Units) -> WordTable:
    """Return every score as a row of words."""
    rows = [
        *(_row("First picks", row, _first_picks(row)) for row in found.first_picks),
        *(_row("Flush weights", row, _weights(row, units)) for row in found.weights),
        *(
            _row("In their range", row, _in_range(row, "less", "more"))
            for row in found.weight_ranges
        ),
        *(_row("Promises", row, _promises(row, units)) for row in found.promises),
        *(_row("On hand at sales", row, _in_range(row, "less", "more")) for row in found.on_hand),
        *(_row("Natural flushes, weeks", row, _came(row)) for row in found.natural_flushes),
    ]
    return WordTable(COLUMNS, tuple(rows))


def foretold_table(found: Foretelling, units: Units) -> RenderableType:
    """Return the answer for a terminal: sentences, then the table."""
    table = foretold_rows(found, units)
    parts: list[RenderableType] = [Indented(line, by=0) for line in foretold_lines(found, units)]
    if all(TOO_FEW in cells for cells in table.rows):  # the sentences say so once
        return Group(*parts)
    what, before, number, *rest = table.columns
    columns = (Column(what), Column(before), Column(number, "right"), *map(Column, rest[:-1]))
    rows = [Row(*cells[:-1], note=cells[-1]) for cells in table.rows]
    return Group(*parts, Text(), Listing(columns, rows, COLUMNS[-1]))


def _lines(found: Foretelling, units: Units) -> Iterator[str]:
    if found.yield_flushes is None:
        yield "How your logs bear is told here once there is a plan."
    else:
        yield yield_words(found.yield_factor, found.yield_flushes)
    picks = next((row for row in found.first_picks if row.enough), None)
    if picks is not None:
        late = picks.days_late or 0.0
        way = "late" if late > 0 else "early"
        whole = f"; on the whole {abs(late):.1f} days {way}" if abs(late) >= 0.5 else ""
        yield (
            f"Of {picks.outcomes} first picks {picks.inside} came on the days told "
            f"{_span(picks)} before; {picks.expected_inside:.0f} should{whole}."
        )
    weights = next((row for row in found.weights if row.enough), None)
    if weights is not None:
        yield (
            f"{count_words(weights.outcomes, 'soak')} told {_span(weights)} before brought "
            f"{format_weight(weights.picked_kg, units)}, where "
            f"{format_weight(weights.foretold_kg, units)} were expected."
        )
    promises = next((row for row in found.promises if row.enough), None)
    if promises is not None:
        yield (
            f"Of {promises.outcomes} promises made {_span(promises)} before {promises.came} were "
            f"kept; {promises.expected:.0f} should."
        )
    if not any(row.enough for row in (*found.first_picks, *found.weights, *found.promises)):
        told = max((row.outcomes for row in found.first_picks), default=0)
        seen = count_words(told, "first pick") if told else "No first pick"
        yield (
            f"{seen} beside a forecast so far: too few to say how well it foretells. From "
            f"{LEAST_OUTCOMES} on it is told here."
        )
    if found.silent_soaks:
        yield (
            f"Of {count_words(found.silent_soaks, 'soak')} the diary tells nothing, neither a pick "
            "nor that nothing came. They are left out, which flatters the weights."
        )


def _row(what: str, row: Lead, said: tuple[str, str, str]) -> tuple[str, ...]:
    cells = said if row.enough else (TOO_FEW, "", "")
    return (what, _span(row), str(row.outcomes), *cells)


def _first_picks(row: FirstPicks) -> tuple[str, str, str]:
    came, should, aside = _in_range(row, "early", "late")
    if row.days_late is not None:
        error = row.days_late_standard_error
        way = "late" if row.days_late > 0 else "early"
        give = "" if error is None else f", give or take {error:.1f}"
        aside += f"; on the whole {abs(row.days_late):.1f} days {way}{give}"
    return came, should, aside


def _in_range(row: InRange, below: str, above: str) -> tuple[str, str, str]:
    aside = f"{row.below} {below}, {row.above} {above}"
    return f"{row.inside} in range", _about(row.expected_inside, row.standard_error), aside


def _weights(row: Weights, units: Units) -> tuple[str, str, str]:
    aside = ""
    if row.picked_for_each_kg is not None:
        aside = f"{percent_words(row.picked_for_each_kg)} of what was told"
        if row.standard_error is not None:
            aside += f", give or take {percent_words(row.standard_error)}"
    return format_weight(row.picked_kg, units), format_weight(row.foretold_kg, units), aside


def _came(row: Happened) -> tuple[str, str, str]:
    return f"{row.came} came", _about(row.expected, row.standard_error), ""


def _promises(row: Promises, units: Units) -> tuple[str, str, str]:
    promised = format_weight(row.promised_kg, units)
    aside = f"{format_weight(row.missing_kg, units)} of {promised} missing"
    return f"{row.came} kept", _about(row.expected, row.standard_error), aside


def _about(expected: float, error: float | None) -> str:
    return f"{expected:.1f}" if error is None else f"{expected:.1f}, give or take {error:.1f}"


def _span(row: Lead) -> str:
    return _SPANS[row.days_before_to]


# The hindcast for the terminal: one listing of the policies for each truth.

_COLUMNS = (
    Column("Soaks by"),
    Column("Missing", "right"),
    Column("of all wanted", "right"),
    Column("The plan saves", "right", "the plan saves {} of all wanted"),
    Column("Way to foresight", "right", "{} of the way from the nine-week rotation to foresight"),
    Column("Spoilt", "right", "{} spoilt unsold"),
    Column("Logs soaked", "right", "{} logs soaked"),
    Column("Visits", "right", "{} visits"),
    Column("Hours", "right", "{} hours of soaking"),
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
        words = f"Truth: {result.truth}{learning}; {seasons}"
        parts += [title(words), _policies(result, units)]
    return Group(*parts, Text(), Indented(_WAY, by=0), Indented(document.caution, by=0))


def _policies(result: Truth, units: Units) -> Listing:
    rows = []
    for policy in result.policies:
        off = policy.first_pick_absolute_error_days
        rows.append(
            Row(
                policy.policy,
                format_weight(policy.shortfall_kg, units),
                share_words(policy.shortfall_share),
                _saved(policy),
                share_words(policy.way_to_foresight),
                format_weight(policy.expired_kg, units),
                f"{policy.logs_soaked:.0f}",
                f"{policy.visits:.0f}",
                f"{policy.soaking_hours:.0f}",
                share_words(policy.promises_kept),
                share_words(policy.promised_share),
                share_words(policy.first_pick_within),
                "" if off is None else f"{off:.1f} days",
            )
        )
    return Listing(_COLUMNS, rows)


def _saved(policy: PolicyMeans) -> str:
    """Return what the plan saves in points of all wanted, with its standard error."""
    if policy.plan_saves is None:
        return ""
    error = "" if policy.plan_saves_error is None else f" ± {100 * policy.plan_saves_error:.1f}"
    return f"{100 * policy.plan_saves:.1f}{error}"
