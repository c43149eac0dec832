"""What is possible for a batch to be inoculated, but more often a slip."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fruitcast.app.doubts import too_many_logs
from fruitcast.inoculation.batch import BatchPlan
from fruitcast.numbers import Numbers
from fruitcast.units import format_length
from fruitcast.yard.model import Yard


def doubts_of_batch(plan: BatchPlan, yard: Yard, numbers: Numbers) -> Iterator[str]:
    """Yield what to ask about a batch: its logs, their size, and how close they are drilled.

    Parameters
    ----------
    plan : BatchPlan
        The batch.
    yard : Yard
        For its tank and units.
    numbers : Numbers
        The numbers in use.
    """
    spec = plan.spec
    for what, metres in (("diameter", spec.diameter), ("length", spec.length)):
        low, high = numbers.log.usual(what)
        if not low <= metres <= high:
            yield (
                f"--{what}: {format_length(metres, yard.units)} is unusual for a log; "
                f"{format_length(low, yard.units)} to {format_length(high, yard.units)} is not "
                "asked about. Check the number and its unit."
            )
    usual = numbers.inoculation.along * numbers.inoculation.between
    holes = plan.pattern.holes
    expected = math.pi * spec.diameter * spec.length / usual
    factor = numbers.doubt.holes
    if not expected / factor <= holes <= expected * factor:
        many = "many" if holes > expected else "few"
        yield (
            f"{holes} holes a log are {many}: at the usual distances it would be about "
            f"{expected:.0f}. Check --along and --between and their units."
        )
    yield from too_many_logs(spec.name, spec.logs, yard, tankfuls=numbers.doubt.tankfuls)
