"""When soaks may be: the yard's soak days, and which soaks fixed by the grower can be kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

import numpy as np

from fruitcast.arrays import BoolArray
from fruitcast.diary.state import YardState, pulled_on
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.stacks import Hold, StackOutlook
from fruitcast.soaks.problem import HAIR
from fruitcast.words import day_words
from fruitcast.yard.model import Away, Yard

LONGEST_SEARCH = 800
"""Days past the horizon in which the next permitted soak day is looked for."""


def is_away(yard: Yard, day: date) -> bool:
    """Return whether nobody soaks, pulls or picks on a day."""
    return _is_away(yard.away, day)


@lru_cache(maxsize=4096)
def _is_away(away: tuple[Away, ...], day: date) -> bool:
    return any(one.covers(day) for one in away)


def rows_away(yard: Yard, futures: Ensemble) -> BoolArray:
    """Return on which rows of the members' weather nobody soaks, pulls or picks."""
    return _rows_away(yard.away, futures.first, futures.days)


@lru_cache(maxsize=16)
def _rows_away(away: tuple[Away, ...], first: date, days: int) -> BoolArray:
    run = [first + timedelta(days=row) for row in range(days)]
    found = np.array([any(one.covers(day) for one in away) for day in run], dtype=bool)
    found.flags.writeable = False  # whoever asks gets the same one
    return found


def may_soak(yard: Yard, day: date) -> bool:
    """Return whether a soak may start on a day, stacks and tank left aside."""
    return yard.soaking.permits(day) and not is_away(yard, day)


def soak_dates(yard: Yard, today: date, weeks: int) -> list[date]:
    """Return the days in the horizon on which a soak may start."""
    days = (today + timedelta(days=n) for n in range(7 * weeks))
    return [day for day in days if may_soak(yard, day)]


def next_soak_date(yard: Yard, today: date, weeks: int) -> date:
    """Return the first permitted soak day past the horizon, or the horizon's end when none is."""
    past = today + timedelta(days=7 * weeks)
    days = (past + timedelta(days=n) for n in range(LONGEST_SEARCH))
    return next((day for day in days if may_soak(yard, day)), past)


# The soaks that the grower has fixed: which of them the plan can keep, and which rule forbids
# one.
#
# A fixed soak is the stack's next one. Hard rules stand against it: logs that are dead, in the
# tank, not grown through or in their first year, pins on them, a full tank, no place left to
# fruit, hours that are used up, days away. What is only care (a short rest, a class that answers
# poorly, another day of the week) the grower was asked about, and has decided.

CARE = ("rest", "natural rest", "kept back")
"""Causes against a soak that are care alone: the grower may decide otherwise."""


@dataclass(frozen=True)
class Fixed:
    """What becomes of the grower's fixed soaks."""

    kept: dict[str, int]  # stack to the index of its soak day
    # Stack to what forbids its soak: a hold of its own, or a rule in words
    refused: dict[str, Hold | str]
    # (soak,): soak days that are open to these stacks alone: none of the yard's own
    unusual: BoolArray

    def without(self, barren: Sequence[str]) -> Fixed:
        """Return the same less stacks whose logs turned out not to bear then."""
        words = "its logs are not expected to bear then"
        return Fixed(
            {name: soak for name, soak in self.kept.items() if name not in barren},
            {**self.refused, **dict.fromkeys(barren, words)},
            self.unusual,
        )


def fixed_dates(yard: Yard, state: YardState, today: date, last: date) -> set[date]:
    """Return the days up to `last` that soaks are fixed for and nobody is away on."""
    days = {stack.fixed[0] for stack in state.stacks.values() if stack.fixed}
    return {day for day in days if today <= day <= last and not is_away(yard, day)}


def fixed_soaks(outlook: YardOutlook) -> Fixed:
    """Return which fixed soaks the plan keeps; of two that do not go together the first named.

    The outlook's soak days hold the fixed ones that lie in the plan's weeks.
    """
    futures, yard, work = outlook.futures, outlook.yard, outlook.numbers.work
    if all(stack.state.fixed is None for stack in outlook.stacks):
        return Fixed({}, {}, np.zeros(len(outlook.soak_rows), dtype=bool))
    tank, taken = np.zeros(futures.days), dict[str, tuple[int, int]]()
    hours = np.zeros(futures.days)
    fruiting = np.zeros(futures.days)
    places = np.inf if yard.fruiting.places is None else yard.fruiting.places
    chance = outlook.numbers.schedule.clear_chance
    for stack in outlook.stacks:
        last, row = stack.state.last_soak, futures.lookback
        if last is not None and last.pulled_on is None:
            out = pulled_on(last, outlook.numbers.forced.usual_hours)
            row += max((out - futures.today).days, 0)
            tank[:row] += stack.state.soaking_logs
            taken[stack.name] = 0, row
            hours[row] += stack.state.soaking_logs * work.pull_hours_per_log
        flush = None if yard.fruiting.places is None else outlook.flushes.get(stack.name)
        if flush is not None and flush.kind == "forced":
            fruiting[row : flush.clear_row(chance)] += stack.state.soaking_logs
    kept: dict[str, int] = {}
    refused: dict[str, Hold | str] = {}
    for stack in outlook.stacks:
        if stack.state.fixed is None:
            continue
        on, logs = stack.state.fixed[0], stack.state.logs
        found = np.flatnonzero(outlook.soak_rows == futures.row(on))
        rule = _rule(stack, on, yard, outlook, found)
        if rule is None:
            soak = int(found[0])
            forced = outlook.kinds[stack.kind].forced
            row, pull = int(outlook.soak_rows[soak]), int(forced.pull_row[soak])
            clear = pull + int(forced.standing_days(chance)[soak])
            spare = [
                yard.soaking.hours_on(futures.date(day)) - hours[day] + HAIR for day in (row, pull)
            ]
            soaking, pulling = logs * work.soak_hours_per_log, logs * work.pull_hours_per_log
            if tank[row:pull].max(initial=0) + logs > yard.soaking.tank_logs:
                rule = _tank_full(logs, yard.soaking.tank_logs, taken, (row, pull))
            elif soaking > spare[0] or pulling > spare[1]:
                rule = "the hours of work of the day do not suffice"
            elif fruiting[pull:clear].max(initial=0) + logs > places:
                rule = "no places to fruit are left for it then"
            else:
                tank[row:pull] += logs
                taken[stack.name] = row, pull
                fruiting[pull:clear] += logs
                hours[row] += soaking
                hours[pull] += pulling
                kept[stack.name] = soak
                continue
        refused[stack.name] = rule
    days = [futures.date(int(row)) for row in outlook.soak_rows]
    unusual = np.array([not may_soak(yard, day) for day in days], dtype=bool)
    return Fixed(kept, refused, unusual)


def _tank_full(
    logs: int, holds: int, taken: Mapping[str, tuple[int, int]], wanted: tuple[int, int]
) -> str:
    """Return that the tank has no room in some rows, and whose logs are in it then."""
    if logs > holds:
        return f"its {logs} logs are more than the {holds} that the tank holds"
    first, past = wanted
    there = [name for name, (begin, end) in taken.items() if begin < past and first < end]
    return f"the tank has no room for it beside {' and '.join(there)}"


def _rule(
    stack: StackOutlook, on: date, yard: Yard, outlook: YardOutlook, found: np.ndarray
) -> Hold | str | None:
    """Return the hard rule against one fixed soak, other stacks left aside."""
    hard = [h for h in stack.holds if h.cause not in CARE and (h.until is None or h.until > on)]
    if hard:
        return hard[0]
    if is_away(yard, on):
        return "you are away on that day"
    if not len(found):
        return "the day lies beyond the plan's weeks"
    forced = outlook.kinds[stack.kind].forced
    soak = int(found[0])
    if is_away(yard, outlook.futures.date(int(forced.pull_row[soak]))):
        return "you are away on the day of the pull"
    if stack.effective_logs <= 0 or not (forced.kg[soak] > 0).any():
        return "nothing would come of it in any of the weather years"
    return None


def cares(stack: StackOutlook, soak: int, outlook: YardOutlook) -> list[str]:
    """Return what is to be asked about a soak that no hard rule forbids, a sentence each."""
    on = outlook.futures.date(int(outlook.soak_rows[soak]))
    forced = outlook.kinds[stack.kind].forced
    found = [
        f"{stack.name} rests until {day_words(hold.until)} after it flushed by itself"
        for hold in stack.holds
        if hold.cause == "natural rest" and hold.until and hold.until > on
    ]
    if not forced.allowed[soak]:
        found.append(
            f"{stack.stack.strain_class.capitalize()} logs answer a soak poorly in summer and in "
            "the warmth: little may come"
        )
    elif (forced.kg[soak] > 0).mean() < outlook.numbers.schedule.bears_in:
        found.append("In most weather years nothing would come of it")
    if not may_soak(outlook.yard, on):
        found.append(f"{day_words(on)} is none of the soak days in yard.toml")
    return found
