"""How well what was foretold came true: scores with the error that luck alone leaves in them.

Outcomes of one day share their weather, so they count here as one piece of luck: the errors
hold for outcomes wholly alike within a day and independent between days. What a whole season
has in common isn't in them; a yard's first season may be off by more than they say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
from pydantic import Field

from fruitcast.arrays import FloatArray
from fruitcast.diary.kept_plan import (
    AVAILABLE,
    FIRST_PICK,
    FLUSH_WEIGHT,
    LEAST_OUTCOMES,
    NATURAL_FLUSH,
    PROMISE,
)
from fruitcast.diary.plan import Plan
from fruitcast.document import Count, Day, Document, Number
from fruitcast.forecast.outcomes import BANDS, Outcomes, Pair

INSIDE = 0.8
"""Share of outcomes that should lie from the p10 to the p90 of their forecast. [0..1]"""

TOLD_TO = 0.005
"""Weights are foretold to 10 g: what misses by less than the rounding doesn't miss. [kg]"""


def error_of_share(chance: FloatArray, clusters: Sequence[object]) -> float:
    """Return the standard error of a share of outcomes whose chances are right.

    Outcomes of the same cluster come or fail together, others independently of them. For one chance
    p it is the root of p (1 - p) times the sum of the squared sizes of the groups, over the number
    of outcomes. NaN without any. [0..1]
    """
    if not len(chance):
        return float("nan")
    spread = np.sqrt(chance * (1.0 - chance))
    return float(np.sqrt((_sums(spread, clusters) ** 2).sum()) / len(chance))


def mean_and_error(values: FloatArray, clusters: Sequence[object]) -> tuple[float, float]:
    """Return a mean and its standard error, which is NaN with fewer than two clusters.

    Outcomes of the same cluster share their luck.
    """
    if not len(values):
        return float("nan"), float("nan")
    mean = float(values.mean())
    sums = _sums(values - mean, clusters)
    if len(sums) < 2:
        return mean, float("nan")
    widened = len(sums) / (len(sums) - 1)
    return mean, float(np.sqrt(widened * (sums**2).sum()) / len(values))


def ratio_and_error(
    told: FloatArray, came: FloatArray, clusters: Sequence[object]
) -> tuple[float, float]:
    """Return what came for each unit told, and the standard error of that, by linearisation.

    NaN where nothing was told, the error also with fewer than two clusters. [unitless]
    """
    whole = float(told.sum())
    if whole <= 0:
        return float("nan"), float("nan")
    ratio = float(came.sum()) / whole
    _, error = mean_and_error(came - ratio * told, clusters)
    return ratio, error * len(told) / whole


def _sums(values: FloatArray, clusters: Sequence[object]) -> FloatArray:
    """Return the sum of each group."""
    places: dict[object, int] = {}
    group = [places.setdefault(name, len(places)) for name in clusters]
    return np.bincount(group, weights=values, minlength=len(places)).astype(np.float64)


class Lead(Document):
    """Outcomes told about as long before; what they are too few to say is null."""

    days_before_from: Count = Field(description="told at least so many days before")
    days_before_to: Count = Field(description="and at most so many")
    outcomes: Count = Field(description="how many the diary tells of")
    enough: bool = Field(description="false under five outcomes: too few to say")


class InRange(Lead):
    """Outcomes that should lie in a range in 8 of 10 cases."""

    inside: Count = Field(description="within the range told, ends included")
    below: Count = Field(description="earlier or less than the range")
    above: Count = Field(description="later or more than the range")
    expected_inside: Number = Field(description="so many would be, were the ranges right")
    standard_error: Number | None = Field(description="of that number, from luck alone")


class FirstPicks(InRange):
    """First picks of soaks against their range of days."""

    days_late: Number | None = Field(description="mean beside the middle day told; below 0 early")
    days_late_standard_error: Number | None


class Weights(Lead):
    """Weights of flushes that are over against what was expected of them."""

    foretold_kg: Number
    picked_kg: Number
    picked_for_each_kg: Number | None = Field(description="picked_kg over foretold_kg")
    standard_error: Number | None = Field(description="of that ratio")


class Happened(Lead):
    """Things that happen with a chance told: promises kept, natural flushes that came."""

    came: Count
    expected: Number = Field(description="sum of the chances told")
    standard_error: Number | None = Field(description="of that sum, from luck alone")


class Promises(Happened):
    """Promises kept; those of nothing are left out."""

    promised_kg: Number
    missing_kg: Number = Field(description="what was not there of what was promised")


class Foretelling(Document):
    """How well what the plans foretold came true."""

    today: Day
    first_picks: tuple[FirstPicks, ...]
    weights: tuple[Weights, ...]
    weight_ranges: tuple[InRange, ...] = Field(description="flushes that came, against their range")
    natural_flushes: tuple[Happened, ...] = Field(description="weeks in which one began")
    on_hand: tuple[InRange, ...] = Field(description="stock at sales against its range")
    promises: tuple[Promises, ...]
    silent_soaks: Count = Field(
        description="soaks that are over and of which the diary tells nothing"
    )
    yield_factor: Number | None = Field(
        description="what the plan last published takes the yard's logs to bear beside the table"
    )
    yield_flushes: Count | None = Field(
        description="flushes of the diary behind it; null while no plan is published"
    )


def scored(found: Outcomes, today: Day, plan: Plan | None) -> Foretelling:
    """Return the scores of outcomes, one row for each span that has any.

    A promise's chance is that of reaching it: where a target caps it, or it is rounded down,
    more are kept than asked for. `plan` is the one last published.
    """
    pairs = found.pairs
    factor, flushes = plan.yield_beside_table() if plan else (None, None)
    ranged = {key: [p for p in rows if _came_in_range(p)] for key, rows in pairs.items()}
    promised = {key: [p for p in rows if _least(p) > TOLD_TO] for key, rows in pairs.items()}
    return Foretelling(
        today=today,
        first_picks=_rows(FirstPicks, pairs, FIRST_PICK, _first_picks),
        weights=_rows(Weights, pairs, FLUSH_WEIGHT, _weights),
        weight_ranges=_rows(InRange, ranged, FLUSH_WEIGHT, _in_range),
        natural_flushes=_rows(Happened, pairs, NATURAL_FLUSH, _natural),
        on_hand=_rows(InRange, pairs, AVAILABLE, _in_range),
        promises=_rows(Promises, promised, PROMISE, _promises),
        silent_soaks=found.silent_soaks,
        yield_factor=factor,
        yield_flushes=flushes,
    )


OfLead = TypeVar("OfLead", bound=Lead)


def _rows(
    kind: type[OfLead],
    pairs: Mapping[tuple[str, int], Sequence[Pair]],
    about: str,
    told: Callable[[Sequence[Pair]], dict[str, Any]],
) -> tuple[OfLead, ...]:
    """Return the row of each span that has any outcomes."""
    return tuple(
        kind(
            days_before_from=first,
            days_before_to=last,
            outcomes=len(rows),
            enough=len(rows) >= LEAST_OUTCOMES,
            **told(rows),
        )
        for band, (first, last) in enumerate(BANDS)
        if (rows := pairs.get((about, band), ()))
    )


def _came_in_range(pair: Pair) -> bool:
    """Return whether a flush came that had a range told."""
    return pair.told.p90 is not None and pair.came > 0


def _least(pair: Pair) -> float:
    return pair.told.least or 0.0


def _first_picks(rows: Sequence[Pair]) -> dict[str, Any]:
    late = _array(pair.came - (pair.told.p50 or 0.0) for pair in rows)
    mean, error = mean_and_error(late, _days(rows))
    return {
        **_in_range(rows),
        "days_late": _known(mean, rows),
        "days_late_standard_error": _known(error, rows),
    }


def _in_range(rows: Sequence[Pair]) -> dict[str, Any]:
    came = _array(pair.came for pair in rows)
    low = _array(pair.told.p10 or 0.0 for pair in rows)
    high = _array(pair.told.p90 or 0.0 for pair in rows)
    below, above = came < low - TOLD_TO, came > high + TOLD_TO
    error = error_of_share(np.full(len(rows), INSIDE), _days(rows)) * len(rows)
    return {
        "inside": int((~below & ~above).sum()),
        "below": int(below.sum()),
        "above": int(above.sum()),
        "expected_inside": INSIDE * len(rows),
        "standard_error": _known(error, rows),
    }


def _weights(rows: Sequence[Pair]) -> dict[str, Any]:
    told = _array(pair.told.mean or 0.0 for pair in rows)
    came = _array(pair.came for pair in rows)
    ratio, error = ratio_and_error(told, came, _days(rows))
    return {
        "foretold_kg": float(told.sum()),
        "picked_kg": float(came.sum()),
        "picked_for_each_kg": _known(ratio, rows),
        "standard_error": _known(error, rows),
    }


def _natural(rows: Sequence[Pair]) -> dict[str, Any]:
    return _happened(rows, _array(pair.came for pair in rows))


def _promises(rows: Sequence[Pair]) -> dict[str, Any]:
    promised = _array(map(_least, rows))
    missing = np.maximum(promised - _array(pair.came for pair in rows), 0.0)
    return {
        **_happened(rows, missing < TOLD_TO),
        "promised_kg": float(promised.sum()),
        "missing_kg": float(missing.sum()),
    }


def _happened(rows: Sequence[Pair], came: npt.ArrayLike) -> dict[str, Any]:
    chance = _array(pair.told.chance or 0.0 for pair in rows)
    return {
        "came": int(np.sum(came)),
        "expected": float(chance.sum()),
        "standard_error": _known(error_of_share(chance, _days(rows)) * len(rows), rows),
    }


def _days(rows: Sequence[Pair]) -> list[str]:
    return [pair.told.day for pair in rows]


def _array(values: Iterable[float]) -> FloatArray:
    return np.array([*values], dtype=np.float64)


def _known(value: float, rows: Sequence[Pair]) -> float | None:
    """Return a figure, None where there is none or the outcomes are too few for it."""
    return None if np.isnan(value) or len(rows) < LEAST_OUTCOMES else value
