"""Lots that would suit the targets, and other advice on the yard as it is run."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np

from fruitcast.biology.yields import rest_factor
from fruitcast.diary.plan import StackToPart
from fruitcast.numbers import default_numbers
from fruitcast.soaks.problem import Problem, StackProblem
from fruitcast.topics import ScheduleNumbers, YieldsNumbers
from fruitcast.units import Units, format_temperature, format_weight
from fruitcast.words import count_words
from fruitcast.yard.model import Soaking, TankWater, lots_of, stack_of

LEAST_LOGS, LEAST_KG = 10, 1.0
"""No smaller lot is proposed: handling a few logs at a time is no one's wish."""

MOST_LOTS = 3
"""More parts of one stack are hard to tell apart in the yard, unless the tank asks for them."""


@dataclass(frozen=True)
class LotProposal:
    """Lots for a yard."""

    stacks: tuple[StackToPart, ...]  # the largest flush first; at least one
    week_target: float  # what the outlets want in a usual week [kg]


def lot_proposal(
    problem: Problem, schedule: ScheduleNumbers, accepted: Collection[str] = ()
) -> LotProposal | None:
    """Return the lots to propose, or None when no stack bears too much at once.

    A stack whose lots were `accepted` before is left as it is. Where the tank parts a stack
    already, each part counts as a stack.
    """
    target = _usual_week(problem)
    if target <= 0:
        return None
    found = []
    for name, lots in _by_stack(problem).items():
        logs, flush = sum(lot.logs for lot in lots), sum(lot.end_flush for lot in lots)
        asked = len(lots)
        taken = any(lot.name in accepted for lot in lots)
        if taken or flush <= schedule.lot_flush * target * asked:
            continue
        most = min(MOST_LOTS * asked, logs // LEAST_LOGS, int(flush / LEAST_KG))
        number = min(ceil(flush / (schedule.lot_flush * target)), most, 9)
        if number > asked:
            found.append(to_part(name, logs, flush, number))
    found.sort(key=lambda each: (-each.flush_kg, each.stack))
    return LotProposal(tuple(found), target) if found else None


def to_part(stack: str, logs: int, flush_kg: float, lots: int) -> StackToPart:
    """Return a stack that would better be soaked in so many lots, or as many as its logs make."""
    sizes = tuple(size for _, size in lots_of(stack, logs, -(-logs // lots)))
    return StackToPart(stack=stack, logs=logs, flush_kg=flush_kg, lots=sizes)


def _by_stack(problem: Problem) -> Mapping[str, list[StackProblem]]:
    lots: dict[str, list[StackProblem]] = {}
    for stack in problem.stacks:
        if stack.logs:
            lots.setdefault(stack_of(stack.name), []).append(stack)
    return lots


def _usual_week(problem: Problem) -> float:
    """Return the median of the weeks' targets, weeks without any left out. [kg/week]"""
    weeks = np.zeros(problem.weeks)
    for sale in problem.outlets:
        if 0 <= sale.day < problem.horizon_days:
            weeks[sale.day // 7] += sale.target
    asked = weeks[weeks > 0]
    return float(np.median(asked)) if len(asked) else 0.0


# Advice on the yard as it is run, in words.

CHILLED = (10.0, 12.0)
"""Water so cold raised yield in a trial in central Missouri over three full years, most when the
air suited the strain: Bruhn & Mihail 2009, Bioresource Technology 100(23):5973-5978 (abstract).
How much is not told there, so it is not reckoned with. [degC]"""


def advice_words(
    lots: LotProposal | None, soaking: Soaking, units: Units, yields: YieldsNumbers
) -> tuple[str, ...]:
    """Return what is worth trying or knowing, a sentence or two each; often nothing."""
    found = [_water_words(soaking.water, units), _rest_words(soaking.rest_days, yields)]
    return (*_lot_words(lots, units), *(words for words in found if words))


def _water_words(water: TankWater | None, units: Units) -> str:
    """Return what is known of cold water, for the tank's own; nothing where it isn't told."""
    if water is None:
        return ""
    low, high = (format_temperature(celsius, units) for celsius in CHILLED)
    cold = (
        f"In a trial logs soaked in water of {low} to {high} bore more. How much more yours would, "
        "nobody can say, so the plan does not count on it"
    )
    if water in ("spring", "well"):
        return f"{cold}. {water.capitalize()} water may be that cold: fill the tank fresh."
    return (
        f"{cold}. In summer {water} water is warmer: fill the tank in the early morning, keep it "
        "in the shade, or put ice in."
    )


def _rest_words(rest_days: int | None, yields: YieldsNumbers) -> str:
    """Return what the grower's own rest between soaks changes; nothing with the usual one."""
    usual = default_numbers().schedule.rest_days
    if rest_days is None or rest_days == usual:
        return ""
    rested = yields.rest_reference + rest_days - usual
    flush = float(rest_factor(rested, yields)) - 1
    often = usual / rest_days - 1
    return (
        f"You rest logs {rest_days} days from soak to soak instead of the usual {usual:g}: a flush "
        f"is taken to be {abs(flush):.0%} {'lighter' if flush < 0 else 'heavier'}, and there can "
        f"be {abs(often):.0%} {'more' if often > 0 else 'fewer'} of them. Nobody has published how "
        "much rest a flush wants: your own picks will show."
    )


def _lot_words(lots: LotProposal | None, units: Units) -> tuple[str, ...]:
    """Return that lots are worth trying."""
    if lots is None:
        return ()
    most, *others = lots.stacks
    flush, week = format_weight(most.flush_kg, units), format_weight(lots.week_target, units)
    too = ""
    if others:
        bear = "bears" if len(others) == 1 else "bear"
        too = f" {count_words(len(others), 'more stack')} {bear} too much at once as well."
    return (
        f"One flush of {most.stack} brings about {flush} within a few days, and in a usual week "
        f"your outlets take {week}.{too} Soaked in lots, one after the other, logs bring a "
        "steadier supply: 'fruitcast lots' shows lots that suit, 'fruitcast lots --accept' "
        "takes them.",
    )
