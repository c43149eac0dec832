"""The week's jobs as a sheet to tick off and fill in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from fruitcast.diary.plan import Plan, Sale
from fruitcast.diary.state import YardState
from fruitcast.outputs.at_a_glance import natural_words, why_words
from fruitcast.outputs.reminder import Reminder
from fruitcast.outputs.reminders import ASKED, reminders
from fruitcast.outputs.week import WEEK_DAYS, told_together, week, work_lines
from fruitcast.units import Units
from fruitcast.words import NATURAL_CHANCE, clean_line, day_words, time_words
from fruitcast.yard.model import Yard

SPARE_LINES = 2
"""Empty lines for what nobody expected."""

_BLANKS = {"weigh": {"us": "lb", "metric": "kg"}, "water": {"us": "in", "metric": "mm"}}
"""Units of what is written down beside a job."""

_WRITE_DOWN = {"inspect": "found", "retire": "logs"}
"""What is written down beside a job when it is no weight and no depth."""


@dataclass(frozen=True)
class SheetJob:
    """One job.

    Attributes
    ----------
    at : str
        Time of day; empty when any will do.
    words : str
        What to do.
    until : str
        Last day in words, empty for a job of one day.
    reasons : tuple of str
        Why.
    done : bool
        Whether the diary has it already.
    blank : str
        What to write down, with its unit; empty when a tick is enough.
    """

    at: str
    words: str
    until: str
    reasons: tuple[str, ...]
    done: bool
    blank: str


@dataclass(frozen=True)
class PickLine:
    """A line to write weights on.

    Attributes
    ----------
    stack : str
        Stack or lot; empty for a spare line.
    expected : tuple of bool
        For each day of the week, whether a pick may fall on it.
    """

    stack: str
    expected: tuple[bool, ...]


@dataclass(frozen=True)
class WeekSheet:
    """The week from today.

    Attributes
    ----------
    days : tuple of date
        Its days.
    overdue : tuple of SheetJob
        What should have been done before.
    jobs : tuple of (date, tuple of SheetJob)
        By day.
    picks : tuple of PickLine
        Lines to write weights on.
    natural : tuple of str
        Flushes that may come by themselves, this week and the next two.
    sales : tuple of Sale
        The plan's `outlets` of these days.
    work : tuple of str
        What picking takes, and which days have too much work.
    """

    days: tuple[date, ...]
    overdue: tuple[SheetJob, ...]
    jobs: tuple[tuple[date, tuple[SheetJob, ...]], ...]
    picks: tuple[PickLine, ...]
    natural: tuple[str, ...]
    sales: tuple[Sale, ...]
    work: tuple[str, ...]


def week_sheet(plan: Plan, yard: Yard, state: YardState, today: date) -> WeekSheet:
    """Return the sheet of the 7 days from today.

    Parameters
    ----------
    plan : Plan
        The plan.
    yard, state : Yard, YardState
        What there is, and what the diary says.
    today : date
        The first day.
    """
    listed = reminders(plan, yard, state)
    found = week(_in_short(listed, plan, yard.units), today)
    days = tuple(day for day, _ in found.days)
    return WeekSheet(
        days,
        tuple(_job(job, today, yard.units) for job in found.overdue),
        tuple(
            (day, tuple(_job(job, day, yard.units) for job in _together(told_together(jobs, plan))))
            for day, jobs in found.days
        ),
        tuple(_pick_lines(plan, state, told_together(listed, plan), days)),
        tuple(f"{line[:1].upper()}{line[1:]}." for line in natural_words(plan, yard.units, today)),
        tuple(sale for sale in plan.outlets if sale.on in days),
        work_lines(plan, today),
    )


def _in_short(listed: Iterable[Reminder], plan: Plan, units: Units) -> Iterator[Reminder]:
    """Yield jobs, a planned soak with its reason in one line: the sheet is for the shed door."""
    soaks = {(soak.stack, soak.soak_on): soak for soak in plan.soaks}
    for job in listed:
        soak = soaks.get((job.stack, job.first_day)) if job.kind == "soak" else None
        yield replace(job, reasons=(why_words(soak, units),)) if soak else job


def _job(job: Reminder, day: date, units: Units) -> SheetJob:
    at = time_words(job.start) if isinstance(job.start, datetime) else ""
    until = day_words(job.last_day) if job.last_day > day else ""
    if job.kind == "pull" and job.last_day < day:
        until = f"due since {day_words(job.first_day)}"
    elif until:
        until = f"until {until}"
    blank = "" if job.done else _BLANKS.get(job.kind, {}).get(units, _WRITE_DOWN.get(job.kind, ""))
    return SheetJob(at, job.summary, until, job.reasons, job.done, blank)


def _together(jobs: Iterable[Reminder]) -> Iterator[Reminder]:
    """Yield jobs, as one what is asked of several stacks on the same days for the same reason."""
    alike: dict[tuple[str, date, tuple[str, ...]], list[Reminder]] = {}
    for job in jobs:
        if job.kind in ASKED and job.kind != "cover":
            alike.setdefault((job.kind, job.last_day, job.reasons), []).append(job)
        else:
            yield job
    for (kind, _, _), listed in alike.items():
        stacks = ", ".join(clean_line(job.stack) for job in listed)
        yield replace(listed[0], summary=ASKED[kind].format(stacks))


def _pick_lines(
    plan: Plan,
    state: YardState,
    listed: Sequence[Reminder],
    days: tuple[date, ...],
) -> Iterator[PickLine]:
    """Return a line for each stack that may be picked this week, then spare ones."""
    spans: dict[str, list[tuple[date, date]]] = {}
    for job in listed:
        if job.kind in ("pick", "picking") and not job.done:
            # The window is that of the first pick; a flush goes on for some days.
            spans.setdefault(job.stack, []).append((job.first_day, job.last_day))
    for entry in plan.natural:
        if entry.chance >= NATURAL_CHANCE:
            monday = entry.week
            spans.setdefault(entry.stack, []).append((monday, monday + timedelta(days=6)))
    for name, stack in state.stacks.items():
        under_way = stack.fruiting_on is not None or stack.pins_on is not None
        if stack.picks and (days[0] - stack.picks[-1].on).days <= WEEK_DAYS:
            under_way = True
        if under_way:
            spans.setdefault(name, []).append((days[0], days[-1]))
    for name in state.stacks:
        expected = tuple(
            any(first <= day <= last for first, last in spans.get(name, ())) for day in days
        )
        if any(expected):
            yield PickLine(clean_line(name), expected)
    for _ in range(SPARE_LINES):
        yield PickLine("", (False,) * len(days))
