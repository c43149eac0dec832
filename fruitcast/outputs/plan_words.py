"""Sentences on a plan: how logs bear, what changed in the model, where nothing is sold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from fruitcast.diary.kept_plan import LEAST_OUTCOMES
from fruitcast.diary.plan import (
    LearnedChange,
    MidsummerSoak,
    ModelChange,
    NaturalSeason,
    NumberChange,
    OtherSoak,
    Plan,
    YoungCare,
)
from fruitcast.units import Units, format_weight
from fruitcast.words import (
    HALF_A_YEAR,
    capital,
    clean_line,
    count_words,
    dated_words,
    day_words,
    span_words,
)
from fruitcast.yard.model import Stack, Yard, stack_of


def stacks_words(names: Iterable[str], of: Iterable[str]) -> str:
    """Return how many stacks some are: '4 stacks', or '4 stacks and 1 lot' where others stay.

    A stack counts as one when all of its lots are among the names.
    """
    lots: dict[str, set[str]] = {}
    for name in of:
        lots.setdefault(stack_of(name), set()).add(name)
    found = set(names)
    whole = [mine for mine in lots.values() if mine <= found]
    single = len(found) - sum(len(mine) for mine in whole)
    counted = ((len(whole), "stack"), (single, "lot"))
    return " and ".join(count_words(number, noun) for number, noun in counted if number)


# How the yard's logs bear beside the table, in one sentence.

_PARTS = {
    "a tenth": 1 / 10,
    "a fifth": 1 / 5,
    "a quarter": 1 / 4,
    "a third": 1 / 3,
    "two fifths": 2 / 5,
    "half": 1 / 2,
    "two thirds": 2 / 3,
}

_TIMES = 1.75
"""From here on more is told in times."""

_HARDLY = 0.05
"""So near to the table is as the table says."""


def yield_words(factor: float | None, flushes: int) -> str:
    """Return how the yard's logs bear beside the table, in one sentence.

    `factor` is what the plan takes them to bear over what the table says, None while no flush is
    over; behind it are so many flushes of the diary.
    """
    if factor is None or flushes < LEAST_OUTCOMES:
        if not flushes:
            return "How your logs bear isn't known yet: the diary has no whole flush of them."
        had = "one whole flush" if flushes == 1 else f"{flushes} whole flushes"
        return f"How your logs bear isn't known yet: the diary has only {had} of them."
    if abs(factor - 1.0) < _HARDLY:
        return "Your logs bear about what the table says."
    said = "times what the table says" if factor > _TIMES else "than the table"
    return f"Your logs bear about {_part_words(factor)} {said}; the plan reckons with it."


def gap_words(plan: Plan) -> str:
    """Return by how much a plan might be better at the most: '1.2%'; empty without a proof."""
    if plan.bound_kg is None or not plan.demand_kg:
        return ""
    return f"{100 * max(0.0, (plan.objective_kg - plan.bound_kg) / plan.demand_kg):.1f}%"


def learned_change_words(change: LearnedChange | None, today: date) -> str:
    """Return how much more or less logs are reckoned to bear than before; empty if they aren't."""
    if change is None:
        return ""
    than = "times what they were" if change.factor > _TIMES else "than"
    ended = {0: "", 1: " 1 flush has ended since."}.get(
        change.flushes, f" {change.flushes} flushes have ended since."
    )
    return (
        f"Logs are reckoned to bear about {_part_words(change.factor)} {than} in the plan of "
        f"{day_words(change.since, today)}.{ended} Look whether all picks are written down."
    )


def _part_words(factor: float) -> str:
    """Return 'a third less', 'a fifth more' or '2.1'."""
    if factor > _TIMES:
        return f"{factor:.1f}"
    part = min(_PARTS, key=lambda part: abs(_PARTS[part] - abs(factor - 1.0)))
    return f"{part} {'more' if factor > 1.0 else 'less'}"


# What changed in the model since the plan before and what that does to the yard, in words.

MOST_NAMED = 6
"""Numbers named one by one; the rest are counted."""


def model_change_lines(plan: Plan, units: Units) -> tuple[str, ...]:
    """Return why the model is not that of the plan before and what it does here."""
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
        f"the plan of {day_words(change.since, plan.today)} expected {before}."
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


# What a plan says where nothing is sold: the table, natural seasons, summer, new logs.

LEAST_SHOWN = 0.1
"""Weeks that are expected to bring less are left out. [kg]"""

REACHED = 0.999
"""A week that brings this share of the most that is counted has reached it."""

CERTAIN = 0.97
"""A natural season that so many past years have is said to come every year. [0..1]"""

WHERE_TO_KEEP = (
    "Keep them off bare ground, in shade all year, near water, out of drying wind. A dry spawn run "
    "stands still: water until the bark is wet through, then let it dry off."
)
"""Common practice."""


@dataclass(frozen=True)
class Told:
    """Some sentences under a title."""

    title: str
    lines: tuple[str, ...]


def table_words(plan: Plan, yard: Yard) -> tuple[Told, ...]:
    """Return what a plan says beside its soaks where nothing is sold."""
    units = yard.units
    found = [
        Told("For the table", tuple(_weeks(plan, units))),
        Told(
            "What comes by itself",
            tuple(_season(s, plan.today, units) for s in plan.natural_seasons),
        ),
        Told(
            "A soak in summer",
            tuple(_midsummer(s, plan.today, units) for s in plan.midsummer),
        ),
    ]
    found += _new_logs(plan, yard)
    return tuple(told for told in found if told.lines)


def _weeks(plan: Plan, units: Units) -> Iterator[str]:
    shown = [week for week in plan.table if week.expected_kg >= LEAST_SHOWN]
    most = max((week.most_kg or 0.0 for week in plan.table), default=0.0)
    for week in shown:
        when, mean = span_words(week.first, week.last), format_weight(week.expected_kg, units)
        if week.p10_kg == week.p90_kg:
            # Nothing that is still to grow is so sure.
            sure = " or more" if week.p10_kg > REACHED * most else " of good ones, on hand"
            yield f"{when}: {mean}{sure}."
            continue
        low, high = format_weight(week.p10_kg, units), format_weight(week.p90_kg, units)
        if week.p10_kg < LEAST_SHOWN:
            low = "none"
        yield f"{when}: about {mean}, {low} to {high} in 8 of 10 years."
    if len(shown) < len(plan.table):
        yield (
            f"{'The other weeks' if shown else 'All weeks'} to {day_words(plan.table[-1].last)} "
            f"bring less than {format_weight(LEAST_SHOWN, units)} each on average: a flush that "
            "may come in any of many weeks counts only a little in each."
        )
    if any(week.p90_kg > REACHED * most for week in shown):
        yield (
            f"The plan counts no more than {format_weight(most, units)} for one week, several "
            "times what your logs would bear in it if they bore evenly: more may come. Dry, freeze "
            "or give away the rest."
        )


def _season(season: NaturalSeason, today: date, units: Units) -> str:
    pick = season.first_pick
    often = "every year"
    if season.chance < CERTAIN:
        often = f"in {count_words(max(round(10 * season.chance), 1), 'year')} of 10"
    name = "An early summer" if season.season == "early summer" else f"A {season.season}"
    if season.season == "autumn":
        name = "An autumn"
    return (
        f"{name} flush of {_listed(season.stacks)} ({season.strain_class}) comes {often}, first "
        f"mushrooms about {day_words(pick.p50, today)} "
        f"({span_words(pick.p10, pick.p90)}): about {format_weight(season.expected_kg, units)} "
        "unless they are soaked before."
    )


def _midsummer(soak: MidsummerSoak, today: date, units: Units) -> str:
    stacks = f"{_listed(soak.stacks)} ({soak.strain_class})"
    if soak.week is None:
        return f"{stacks}: does not pay; in the heat of summer little or nothing would come."
    brings = (
        f"{stacks}: best in the week of {day_words(soak.week, today)}; it brings about "
        f"{format_weight(soak.brings_kg, units)}"
    )
    more = soak.brings_kg - soak.costs_kg
    if more < LEAST_SHOWN:
        return (
            f"{brings}, but what comes by itself is about as much less: it pays only if you want "
            "mushrooms just then."
        )
    cost = ""
    if soak.costs_kg >= LEAST_SHOWN:
        cost = (
            f", and what comes by itself is about {format_weight(soak.costs_kg, units)} less: "
            f"{format_weight(more, units)} more in all"
        )
    return f"{brings}{cost}."


def _new_logs(plan: Plan, yard: Yard) -> Iterator[Told]:
    by_stack: dict[str, list[YoungCare]] = {}
    for entry in plan.care:
        by_stack.setdefault(entry.stack, []).append(entry)
    ready = {entry.stack: entry for entry in plan.ready}
    for place, (name, entries) in enumerate(by_stack.items()):
        # Said of all once, with the first of them.
        lines = [*([] if place else [WHERE_TO_KEEP]), *_care_lines(entries, plan.today)]
        if name in ready:
            on = day_words(ready[name].on, plan.today)
            lines.append(
                f"The spawn run should be done about {on}: look for white growth at the log ends."
            )
        yield Told(_new_title(name, yard.by_name.get(name), entries[0].logs), tuple(lines))


def _new_title(name: str, stack: Stack | None, living: int | None) -> str:
    if stack is None:
        return f"New logs: {clean_line(name)}"
    return (
        f"New logs: {clean_line(name)}, "
        f"{count_words(stack.logs if living is None else living, 'log')}, "
        f"{dated_words(stack.inoculated)}"
    )


def _care_lines(entries: list[YoungCare], today: date) -> Iterator[str]:
    """Yield a line for what is to be done on one or several days, in order of the first.

    Where each day has a reason of its own, it says when.
    """
    alike: dict[str, list[YoungCare]] = {}
    for entry in entries:
        alike.setdefault(entry.what, []).append(entry)
    for what, group in alike.items():
        reasons = {entry.reason for entry in group}
        if len(reasons) == 1:
            days = ", ".join(_when(entry, today) for entry in group)
            why = f" {capital(clean_line(group[0].reason))}." if group[0].reason else ""
            yield f"{capital(clean_line(what))}: {days}.{why}"
        else:
            reasons_in_turn = ", ".join(clean_line(entry.reason) for entry in group)
            yield f"{capital(clean_line(what))}: {reasons_in_turn}."


def _when(entry: YoungCare, today: date) -> str:
    if entry.first == entry.last:
        return day_words(entry.first, today)
    if entry.first.year == entry.last.year:
        far = (entry.last - today).days > HALF_A_YEAR
        return f"{span_words(entry.first, entry.last)}{f' {entry.last.year}' if far else ''}"
    return f"{day_words(entry.first, today)} to {day_words(entry.last, today)}"


def _listed(names: tuple[str, ...]) -> str:
    return ", ".join(clean_line(name) for name in names)
