"""The season of every stack as spans of days: what a strip of the yard shows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from fruitcast.diary.plan import Pick, Plan
from fruitcast.diary.state import StackState, YardState
from fruitcast.yard.model import Stack, Yard

SpanKind = Literal["spawn run", "first year", "rest"]

BEFORE_DAYS = 28
"""Days before today that a strip shows. [day]"""


@dataclass(frozen=True)
class Span:
    """A stretch of one stack's season; `past` is the day after its last.

    Attributes
    ----------
    kind : str
        'spawn run' (up to the day by which it should be done), 'first year' (done, but not a
        full year from inoculation) or 'rest'.
    first, past : date
        First day, and the day after the last.
    """

    kind: SpanKind
    first: date
    past: date


@dataclass(frozen=True)
class StripSoak:
    """One soak on the strip.

    Attributes
    ----------
    on, pull_on : date
        Days on which the logs go in and come out.
    done : bool
        Whether the diary has it.
    window : (date, date, date) or None
        First pick, early, likely and late; None when that is over.
    expected_kg : float
        [kg]
    """

    on: date
    pull_on: date
    done: bool
    window: tuple[date, date, date] | None
    expected_kg: float


@dataclass(frozen=True)
class StripRow:
    """One stack's season.

    Attributes
    ----------
    stack, strain_class : str
        The stack.
    spans : tuple of Span
        In order of day.
    ready : (date or None, date or None, date or None) or None
        Early, likely and late day by which its spawn run is done; None when it is.
    soaks : tuple of StripSoak
        Of the diary and the plan, in order of day.
    picked : tuple of date
        Days on which it was picked.
    natural : tuple of (date, float)
        Chance that a natural flush begins in the week from each Monday. [0..1]
    """

    stack: str
    strain_class: str
    spans: tuple[Span, ...]
    ready: tuple[date | None, date | None, date | None] | None
    soaks: tuple[StripSoak, ...]
    picked: tuple[date, ...]
    natural: tuple[tuple[date, float], ...]


@dataclass(frozen=True)
class Strip:
    """The season of the whole yard.

    Attributes
    ----------
    first, today, last : date
        Both ends and the day of the plan.
    rows : tuple of StripRow
        The stacks.
    away : tuple of (date, date)
        Spans without soaking, pulling or picking, both ends included.
    """

    first: date
    today: date
    last: date
    rows: tuple[StripRow, ...]
    away: tuple[tuple[date, date], ...]


def season_strip(
    plan: Plan, yard: Yard, state: YardState, *, first_after_days: float, rest_days: float
) -> Strip:
    """Return the season of every stack, out of a plan and the diary.

    Parameters
    ----------
    plan : Plan
        The plan.
    yard, state : Yard, YardState
        What there is, and what the diary says.
    first_after_days : float
        From inoculation to the first soak. [day]
    rest_days : float
        From soak day to soak day. [day]
    """
    today = plan.today
    first, last = (
        today - timedelta(days=BEFORE_DAYS),
        today + timedelta(weeks=plan.weeks, days=-1),
    )
    listed = {stack.name: stack for stack in yard.stacks}
    rows = tuple(
        _row(
            plan,
            listed[state.lot_of[name]],
            stack,
            (first, last),
            first_after_days=first_after_days,
            rest_days=rest_days,
        )
        for name, stack in state.stacks.items()
    )
    return Strip(first, today, last, rows, tuple(_away(yard, first, last)))


def _row(
    plan: Plan,
    stack: Stack,
    state: StackState,
    ends: tuple[date, date],
    *,
    first_after_days: float,
    rest_days: float,
) -> StripRow:
    soaks = tuple(sorted(_soaks(plan, state, ends[0]), key=lambda soak: soak.on))
    ready = _ready(plan, state.name)
    spans = [
        *_young(stack, ready, ends, first_after_days=first_after_days),
        *_rests(plan, state, soaks, rest_days=rest_days),
    ]
    shown = sorted(
        (
            Span(span.kind, max(span.first, ends[0]), min(span.past, ends[1] + timedelta(days=1)))
            for span in spans
            if span.first <= ends[1] and span.past > ends[0]
        ),
        key=lambda span: span.first,
    )
    return StripRow(
        state.name,
        stack.strain_class,
        tuple(shown),
        ready,
        soaks,
        tuple(sorted({pick.on for pick in state.picks if pick.on >= ends[0]})),
        tuple((entry.week, entry.chance) for entry in plan.natural if entry.stack == state.name),
    )


def _soaks(plan: Plan, state: StackState, first: date) -> Iterator[StripSoak]:
    under_way = {entry.soak_on: entry for entry in plan.under_way if entry.stack == state.name}
    for soak in state.soaks:
        entry = under_way.get(soak.on)
        if soak.on >= first or entry is not None:
            pulled = soak.pulled_on or (entry.pull_on if entry else soak.on)
            window = None if entry is None else _window(entry.pick)
            kg = 0.0 if entry is None else entry.expected_kg
            yield StripSoak(soak.on, pulled, True, window, kg)
    for ahead in plan.soaks:
        if ahead.stack == state.name:
            yield StripSoak(
                ahead.soak_on, ahead.pull_on, False, _window(ahead.pick), ahead.expected_kg
            )


def _window(pick: Pick) -> tuple[date, date, date]:
    return pick.p10, pick.p50, pick.p90


def _ready(plan: Plan, stack: str) -> tuple[date | None, date | None, date | None] | None:
    for entry in plan.spawn_run:
        if entry.stack == stack:
            return entry.ready.p10, entry.ready.p50, entry.ready.p90
    return None


def _young(
    stack: Stack,
    ready: tuple[date | None, date | None, date | None] | None,
    ends: tuple[date, date],
    *,
    first_after_days: float,
) -> Iterator[Span]:
    year_up = stack.inoculated + timedelta(days=int(first_after_days))
    done = stack.inoculated
    if ready is not None:
        done = ready[1] or ready[2] or ends[1] + timedelta(days=1)
        yield Span("spawn run", stack.inoculated, done)
    if year_up > max(done, ends[0]):
        yield Span("first year", done, year_up)


def _rests(
    plan: Plan, state: StackState, soaks: tuple[StripSoak, ...], *, rest_days: float
) -> Iterator[Span]:
    rest = timedelta(days=int(rest_days))
    for soak in soaks:
        yield Span("rest", soak.pull_on, soak.on + rest)
    for entry in plan.rest_ends:
        if entry.stack == state.name:
            # The rest may follow a natural flush, which no soak on the strip explains.
            natural = [pick.on for pick in state.picks if pick.kind == "natural"]
            begun = max([*natural, *(soak.pull_on for soak in soaks if soak.done)], default=None)
            today = plan.today
            end = entry.on
            if end > max((s.on + rest for s in soaks if s.done), default=date.min):
                yield Span("rest", begun or today, end)


def _away(yard: Yard, first: date, last: date) -> Iterator[tuple[date, date]]:
    begun: date | None = None
    for offset in range((last - first).days + 2):
        day = first + timedelta(days=offset)
        away = day <= last and yard.away_on(day)
        if away and begun is None:
            begun = day
        elif not away and begun is not None:
            yield begun, day - timedelta(days=1)
            begun = None
