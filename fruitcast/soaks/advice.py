"""Advice on the yard as it is run, in words."""

from __future__ import annotations

from fruitcast.biology.yields import rest_factor
from fruitcast.numbers import default_numbers
from fruitcast.soaks.lot_size import LotProposal
from fruitcast.topics import YieldsNumbers
from fruitcast.units import Units, format_temperature, format_weight
from fruitcast.words import count_words
from fruitcast.yard.model import Soaking, TankWater

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
    flush, week = format_weight(most.flush, units), format_weight(lots.week_target, units)
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
