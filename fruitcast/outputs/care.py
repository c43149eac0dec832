"""The care of young logs as entries of a plan, so that calendar and week know of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from fruitcast.biology.tree_seasons import turning_days
from fruitcast.diary.plan import LikelyDays, YoungCare
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.past_seasons import growing_season
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.forecast.typical_seasons import Climate, climate, young_together
from fruitcast.forecast.water import band_of
from fruitcast.inoculation.batch import BatchCalendar, batch_calendar, next_soak_day
from fruitcast.inoculation.problem import LogKind
from fruitcast.numbers import Numbers
from fruitcast.outputs.reminder import DRY_SPELLS, INOCULATING, TURNINGS, still_asked
from fruitcast.weather.daily import DailyWeather
from fruitcast.words import MONTHS, dated_words
from fruitcast.yard.model import Stack, Yard, in_season

_FIRST_SOAK, _NATURAL, _SPAWN_RUN = 1, 2, 3
"""Ordinals, beside those of `reminder`: what they name stays the same when its day moves."""

_SIGNS = "white growth at the log ends, springy bark, a dull sound when knocked"

_RARE = 0.5
"""Months with fewer waterings than this, in the middle of past years, get no reminder."""


def young_calendars(
    stacks: Iterable[Stack],
    yard: Yard,
    weather: DailyWeather,
    today: date,
    seed: int,
    numbers: Numbers,
) -> dict[str, BatchCalendar]:
    """Return the dates of stacks from their days of inoculation on, by name.

    Like stacks share their calendar. `weather` is complete up to yesterday; the seed is that of the
    scatter.
    """
    alike: dict[tuple[date, float], dict[LogKind, list[Stack]]] = {}
    for stack in stacks:
        kind = LogKind(stack.strain_class, stack.tree, stack.diameter, stack.length, stack.spawn)
        of_site = alike.setdefault((stack.inoculated, band_of(stack.diameter).diameter), {})
        of_site.setdefault(kind, []).append(stack)
    sites: list[Climate] = []
    for born, diameter in alike:
        if sites:
            sites.append(sites[0].inoculated_on(born, diameter))
        else:
            sites.append(climate(yard, weather, today, diameter, numbers, inoculated=born))
    found: dict[str, BatchCalendar] = {}
    for site, young, kinds in zip(sites, young_together(sites), alike.values(), strict=True):
        for kind, like in kinds.items():
            calendar = batch_calendar(kind, site, young, yard, seed, numbers)
            found.update((stack.name, calendar) for stack in like)
    return found


def yard_care(outlook: YardOutlook, weather: DailyWeather, seed: int) -> list[YoungCare]:
    """Return what the yard's young stacks want from today on, as a plan's list `care`.

    Where the outlook sees a spawn run's end, that counts, else past years do; the seed is that of
    the scatter.
    """
    numbers = outlook.numbers
    futures = outlook.futures
    young: dict[str, list[StackOutlook]] = {}
    for lot in outlook.stacks:
        dead = any(hold.cause in ("dead", "no logs") for hold in lot.holds)
        if not dead and not lot.spawn.seen and lot.spawn.sure_row > futures.lookback:
            young.setdefault(lot.stack.name, []).append(lot)
    stacks = [lots[0].stack for lots in young.values()]
    calendars = young_calendars(stacks, outlook.yard, weather, futures.today, seed, numbers)
    found = []
    for lots in young.values():
        stack = lots[0].stack
        calendar = _as_seen(calendars[stack.name], lots, outlook.yard)
        wanted = batch_care(
            stack,
            calendar,
            futures.today,
            turn_days=numbers.inoculation.turn_days,
            # One that ends within the plan's weeks is told with the soaks.
            spawn_run=all(_ends_later(lot) for lot in lots),
        )
        living = sum(lot.state.logs for lot in lots)
        found += [entry.model_copy(update={"logs": living}) for entry in wanted]
    asked = still_asked(found, outlook.state, turn_days=numbers.inoculation.turn_days)
    return sorted(asked, key=lambda entry: (entry.stack, entry.first, entry.ordinal))


def _ends_later(lot: StackOutlook) -> bool:
    return any(hold.cause == "spawn run" and hold.until is None for hold in lot.holds)


def _spawn_run(name: str, calendar: BatchCalendar, today: date) -> list[YoungCare]:
    """Return between which days to look for the end of the spawn run."""
    span, middle = _span(calendar.ready), calendar.ready.p50
    if span is None or span[1] < today:
        return []
    about = f"most likely about {dated_words(middle)}; " if middle else ""
    what = "look at the logs, the spawn run should be done"
    return [_entry(name, _SPAWN_RUN, max(span[0], today), span[1], what, f"{about}{_SIGNS}")]


def _as_seen(calendar: BatchCalendar, lots: Sequence[StackOutlook], yard: Yard) -> BatchCalendar:
    """Return a calendar with what the outlook knows of the stack's lots in place."""
    middle = [lot.spawn.ready.p50 for lot in lots]
    soakable = [lot.soakable_from for lot in lots]
    if None not in middle:
        ready = max(day for day in middle if day is not None)
        calendar = replace(calendar, ready=calendar.ready.model_copy(update={"p50": ready}))
    if None not in soakable:
        first = min(day for day in soakable if day is not None)
        calendar = replace(calendar, earliest_soak=next_soak_day(yard, first))
    return calendar


def batch_care(
    stack: Stack, calendar: BatchCalendar, today: date, *, turn_days: float, spawn_run: bool = True
) -> list[YoungCare]:
    """Return all care dates of a stack from today on: inoculating, turning, first crop.

    `turn_days` lie between two turnings; `spawn_run` says whether the end of the spawn run is among
    them.
    """
    name, found = stack.name, []
    if stack.inoculated >= today:
        last = calendar.window[1] if calendar.window else stack.inoculated
        found.append(
            _entry(
                name,
                INOCULATING,
                stack.inoculated,
                max(last, stack.inoculated),
                f"inoculate {stack.logs} logs",
                "wood felled no more than two weeks before; if it is done on another day, correct "
                "that day of the stack",
            )
        )
    found += _turnings(stack, calendar, today, turn_days=turn_days)
    found += _waterings(stack, calendar, today)
    if spawn_run:
        found += _spawn_run(name, calendar, today)
    if calendar.earliest_soak is not None and calendar.earliest_soak >= today:
        found.append(
            _entry(
                name,
                _FIRST_SOAK,
                calendar.earliest_soak,
                calendar.earliest_soak,
                "may be soaked for the first time",
                "a year after inoculation, and the spawn run is likely done",
            )
        )
    span = _span(calendar.first_natural)
    if span is not None and span[1] >= today:
        middle = calendar.first_natural.p50
        found.append(
            _entry(
                name,
                _NATURAL,
                *span,
                "a first natural flush may come",
                f"most likely about {dated_words(middle)}" if middle else "",
            )
        )
    return sorted(found, key=lambda entry: (entry.first, entry.ordinal))


def _turnings(
    stack: Stack, calendar: BatchCalendar, today: date, *, turn_days: float
) -> list[YoungCare]:
    """Days to turn and restack; counted from inoculation, so that each stays the same reminder."""
    until = calendar.ready.p50
    days = calendar.turning
    if until is not None:
        growing = growing_season(calendar.trees, stack.inoculated)
        days = turning_days(stack.inoculated, until, growing, turn_days=turn_days)
    return [
        _entry(
            stack.name,
            TURNINGS + place,
            day,
            day,
            "turn and restack the logs",
            "it lets them dry and grow through evenly; look for white growth at the ends",
        )
        for place, day in enumerate(days)
        if day >= today
    ]


def _waterings(stack: Stack, calendar: BatchCalendar, today: date) -> list[YoungCare]:
    """Return the months of the first year in which past years had new logs dry out.

    A month with hardly any between two of them is told too, so that it isn't missed in the list.
    """
    out, fall = growing_season(calendar.trees, stack.inoculated)
    months = []
    for ahead in range(12):
        month = stack.inoculated.month - 1 + ahead
        first = date(stack.inoculated.year + month // 12, month % 12 + 1, 1)
        growing = in_season(first.replace(day=15), (out.month, out.day), (fall.month, fall.day))
        often = calendar.waterings.get(first.month, 0.0) if growing else 0.0
        months.append((first, max(round(often), 1) if often >= _RARE else 0, growing))
    asked = [ahead for ahead, (_, times, _) in enumerate(months) if times]
    found = []
    for ahead, (first, times, growing) in enumerate(months):
        last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
        between = bool(asked) and asked[0] < ahead < asked[-1] and growing
        if last < today or not (times or between):
            continue
        found.append(
            _entry(
                stack.name,
                DRY_SPELLS + ahead,
                max(first, stack.inoculated),
                last,
                "water the new logs in dry spells",
                f"{_times(times)} in {MONTHS[first.month - 1]}",
            )
        )
    return found


def _times(number: int) -> str:
    words = {0: "seldom", 1: "about once", 2: "about twice"}
    return words.get(number, f"about {number} times")


def _span(days: LikelyDays) -> tuple[date, date] | None:
    first, last = days.p10 or days.p50, days.p90 or days.p50 or days.p10
    return None if first is None or last is None else (first, last)


def _entry(stack: str, ordinal: int, first: date, last: date, what: str, reason: str) -> YoungCare:
    return YoungCare(stack=stack, ordinal=ordinal, first=first, last=last, what=what, reason=reason)
