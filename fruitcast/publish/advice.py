"""Advice on the yard as it is run, in words."""

from __future__ import annotations

from fruitcast.publish.words import count_words
from fruitcast.schedule.lot_size import LotAdvice
from fruitcast.units import Units, format_weight


def advice_words(lots: LotAdvice | None, units: Units) -> tuple[str, ...]:
    """Return what is worth trying, a sentence or two each; often nothing."""
    if lots is None:
        return ()
    flush, week = format_weight(lots.flush, units), format_weight(lots.week_target, units)
    others = len(lots.stacks) - 1
    too = f", and {count_words(others, 'more stack')} much at once too" if others else ""
    return (
        f"One flush of {lots.stacks[0]} gives about {flush}, your outlets want {week} a week{too}. "
        "Smaller lots, soaked one after the other, bring a steadier supply: see what changes with "
        f"'fruitcast plan --lots {lots.lot_logs}'; lot_logs = {lots.lot_logs} under [soaking] in "
        "yard.toml keeps it.",
    )
