"""What changed in the model since the plan before and what that does to the yard, in words."""

from __future__ import annotations

from collections.abc import Iterator

from fruitcast.diary.plan import ModelChange, NumberChange, OtherSoak, Plan
from fruitcast.units import Units, format_weight
from fruitcast.words import clean_line, count_words, day_words

MOST_NAMED = 6
"""Numbers named one by one; the rest are counted."""


def model_change_lines(plan: Plan, units: Units) -> tuple[str, ...]:
    """Return why the model is not that of the plan before and what it does here.

    Parameters
    ----------
    plan : Plan
        A plan.
    units : {'us', 'metric'}
        What people see.

    Returns
    -------
    tuple of str
        A sentence or two each; none while nothing has changed.
    """
    return tuple(_lines(plan.model_change, plan, units)) if plan.model_change else ()


def _lines(change: ModelChange, plan: Plan, units: Units) -> Iterator[str]:
    own = [number for number in change.numbers if number.own]
    ours = [number for number in change.numbers if not number.own]
    if change.version_before != change.version_after:
        before, after = map(clean_line, (change.version_before, change.version_after))
        yield f"The program was upgraded from {before} to {after}."
    if own:
        yield f"Your own numbers under [numbers] in yard.toml: {_numbers(own)}."
    if ours:
        yield f"{count_words(len(ours), 'number')} of the program: {_numbers(ours)}."
    before = format_weight(change.expected_kg_before, units)
    after = format_weight(change.expected_kg_after, units)
    yield (
        f"On this yard the soaks until {day_words(change.until)} are expected to bring {after}; "
        f"the plan of {day_words(change.since)} expected {before}."
    )
    if change.next_soaks:
        soaks = [_soak(soak) for soak in change.next_soaks[:MOST_NAMED]]
        more = len(change.next_soaks) - MOST_NAMED
        yield f"Next soaks: {'; '.join(soaks)}{f'; and {more} more' if more > 0 else ''}."
    else:
        yield "Every next soak is as it was."
    if change.since != plan.today:
        yield "What weather and diary have brought since is in this too."


def _numbers(numbers: list[NumberChange]) -> str:
    named = ", ".join(_number(number) for number in numbers[:MOST_NAMED])
    more = len(numbers) - MOST_NAMED
    return f"{named} and {more} more" if more > 0 else named


def _number(number: NumberChange) -> str:
    if number.before is None:
        return f"{clean_line(number.key)} is new at {number.after:g}"
    if number.after is None:
        return f"{clean_line(number.key)} is gone, was {number.before:g}"
    return f"{clean_line(number.key)} is {number.after:g}, was {number.before:g}"


def _soak(soak: OtherSoak) -> str:
    after = day_words(soak.after) if soak.after else "none"
    before = day_words(soak.before) if soak.before else "none"
    return f"{clean_line(soak.stack)} {after}, was {before}"
