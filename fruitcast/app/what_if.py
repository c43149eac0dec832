"""What if: other circumstances, or one stack soaked on another day; nothing is written."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

from fruitcast.app.choosing import (
    DEFAULT_SEED,
    PlanBeside,
    as_it_stands,
    beside_published,
    build,
    choose,
    with_room,
)
from fruitcast.app.grower_word import forbidden, new_cares, with_word
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard, horizon_days, read_known
from fruitcast.app.publication import last_plan
from fruitcast.app.recording import understand
from fruitcast.diary.entries.word import day_meant
from fruitcast.diary.events import Event
from fruitcast.diary.plan import GoesBy, KeptDate, SoakTried
from fruitcast.diary.recording import NeedsYesError
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.errors import InputError
from fruitcast.outputs.what_if_words import (
    Compared,
    SoakTriedOut,
    TriedOut,
    TriedOutlet,
    TriedPlan,
    TriedSoaks,
)
from fruitcast.progress import Progress, silent
from fruitcast.soaks.answer import sales_tried, soak_dates_of, soak_tried
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import fresh_ledger
from fruitcast.soaks.problem import Plan as Paths
from fruitcast.soaks.search import MENDING, QUICK, SearchParams
from fruitcast.soaks.shortage import MoreOf, gains_of_more
from fruitcast.soaks.supply import expected_shortfall
from fruitcast.tables.values import WEEKDAYS
from fruitcast.units import parse_weight
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard.keys import NO_OUTLET
from fruitcast.yard.model import SEPARATOR, Away, Yard, stack_of

REACHES = timedelta(weeks=4)
"""A plan published that ends earlier by more than this is not started from."""


@dataclass(frozen=True)
class Circumstances:
    """What is taken to be different."""

    tank_logs: int | None = None  # places in the tank
    # Outlet and weight wanted each time, in words ('20 lb'; a bare number is in the yard's own
    # unit).
    targets: tuple[tuple[str, str], ...] = ()
    skip: tuple[tuple[date, date], ...] = ()  # spans without soaking, pulling or picking
    lot_logs: int | None = None  # logs of a stack that are soaked together
    places: int | None = None  # logs that can stand where they fruit
    # Days of the week for soaking, Monday is 0; empty for those of the yard.
    soak_days: tuple[int, ...] = ()

    @property
    def any(self) -> bool:
        """Whether anything differs at all."""
        return self != Circumstances()


def parse_targets(given: list[str]) -> tuple[tuple[str, str], ...]:
    """Return outlet and weight of options like 'Saturday stall=20'.

    Raises InputError if one has no '='.
    """
    pairs = []
    for text in given:
        name, sign, amount = text.rpartition("=")
        if not sign or not name.strip() or not amount.strip():
            raise InputError(
                f"--target {text!r}: an outlet and a weight are wanted. Write for instance "
                "--target 'Saturday stall=20 lb'."
            )
        pairs.append((name.strip(), amount.strip()))
    return tuple(pairs)


def parse_spans(given: list[str]) -> tuple[tuple[date, date], ...]:
    """Return the first and last day of options like '2027-07-04..2027-07-10'.

    Raises InputError if one is not a span of dates.
    """
    spans = []
    for text in given:
        first, _, last = text.partition("..")
        try:
            span = date.fromisoformat(first.strip()), date.fromisoformat((last or first).strip())
        except ValueError:
            raise InputError(
                f"--skip {text!r}: two dates are wanted. Write for instance "
                "--skip 2027-07-04..2027-07-10."
            ) from None
        if span[1] < span[0]:
            raise InputError(f"--skip {text!r}: the last day lies before the first. Swap them.")
        spans.append(span)
    return tuple(spans)


def changed_yard(yard: Yard, what: Circumstances) -> Yard:
    """Return the yard under other circumstances.

    Raises InputError if an outlet is unknown or a value cannot be.
    """
    for option, given, least in (
        ("--tank", what.tank_logs, "a tank holds at least one log"),
        ("--places", what.places, "at least one log must stand somewhere"),
        ("--lots", what.lot_logs, "a lot has at least one log"),
    ):
        if given is not None and given < 1:
            raise InputError(f"{option} {given}: {least}.")
    at_once, soaking, fruiting = yard.logs_at_once, yard.soaking, yard.fruiting
    if what.tank_logs is not None:
        soaking = replace(soaking, tank_logs=what.tank_logs)
    if what.soak_days:
        soaking = replace(soaking, days=what.soak_days)
    if what.places is not None:
        fruiting = replace(fruiting, places=what.places)
    yard = replace(yard, soaking=soaking, fruiting=fruiting)
    # Room for more leaves the lots as they are: together they may go in all the same.
    lots = at_once if what.lot_logs is None and yard.logs_at_once > at_once else what.lot_logs
    if lots is not None:
        yard = replace(yard, soaking=replace(soaking, lot_logs=lots))
    names = {outlet.name for outlet in yard.outlets}
    if what.targets and not names:
        raise InputError(f"--target: {NO_OUTLET}")
    for name, amount in what.targets:
        if name not in names:
            raise InputError(
                f"--target: no outlet is called {name!r}. The yard has: {', '.join(sorted(names))}."
            )
        kg = parse_weight(amount, yard.units)
        yard = replace(
            yard,
            outlets=tuple(
                replace(outlet, target_kg=kg) if outlet.name == name else outlet
                for outlet in yard.outlets
            ),
        )
    return replace(yard, away=(*yard.away, *(Away(first, last) for first, last in what.skip)))


def try_out(
    folder: Path,
    today: date,
    what: Circumstances,
    *,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    worth: bool = False,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> TriedOut:
    """Return the comparison, or what more would be worth, or both; nothing is written.

    With `worth` it is told what a little more of each limited thing would bring.
    """
    known = read_known(folder, today, horizon_days(weeks), fetching=fetching, progress=progress)
    found = season_worths(known, weeks=weeks, seed=seed, progress=progress) if worth else None
    return TriedOut(
        today=today,
        units=known.yard.units,
        compared=(
            compare(known, what, weeks=weeks, seed=seed, progress=progress) if what.any else None
        ),
        worth=found,
    )


class _Tried(NamedTuple):
    """A plan that nobody is told in full."""

    built: BuiltProblem
    plan: Paths

    @property
    def dates(self) -> GoesBy:
        """Its soaks, for another plan to start from."""
        problem = self.built.problem
        return GoesBy(
            soaks=soak_dates_of(problem, self.plan),
            stacks=tuple(sorted(stack.name for stack in problem.stacks)),
        )


class _Told(NamedTuple):
    """What is told of a plan: it alone is kept, of two plans the first one's tables are gone."""

    summary: TriedPlan
    delivered: dict[str, float]
    dates: GoesBy


def compare(
    known: KnownYard,
    what: Circumstances,
    *,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    progress: Progress = silent,
) -> Compared:
    """Return the present plan beside the one under other circumstances; nothing is written."""
    other = replace(known, yard=changed_yard(known.yard, what))
    here = _told(_present(known, weeks, seed, progress))
    # The same search from the same start, so that only the circumstances differ.
    start = replace(other, published=here.dates)
    state, by_row = known.state, False
    if other.yard.logs_at_once != known.yard.logs_at_once:
        state = read_yard_state(other.yard, known.today)
        by_row = state.lot_of != known.state.lot_of
    if by_row:
        # Nobody goes by dates of other lots yet: they start from their stack's, and moving is free.
        dates = _of_lots(here.dates, state.lot_of)
        start = replace(other, state=replace(state, published={}), published=dates)
    there = _told(_try(start, weeks, seed, progress, QUICK))
    before, after = here.delivered, there.delivered
    return Compared(
        present=here.summary,
        other=there.summary,
        outlets=tuple(
            TriedOutlet(
                outlet=name, present_kg=before.get(name, 0.0), other_kg=after.get(name, 0.0)
            )
            for name in dict.fromkeys([*before, *after])
        ),
        soaks=differing_soaks(here.dates.soaks, there.dates.soaks, by_row=by_row),
    )


def season_worths(
    known: KnownYard,
    *,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    progress: Progress = silent,
) -> tuple[MoreOf, ...]:
    """Return what a little more of each limited thing would bring over the season."""
    progress("planning as things stand")
    here = _present(known, weeks, seed, progress)
    others, more_days = sorted(set(range(7)) - set(known.yard.soaking.days)), []
    for done, weekday in enumerate(others):
        progress("trying one more soak day", done, len(others))
        days = tuple(sorted((*known.yard.soaking.days, weekday)))
        yard = replace(known.yard, soaking=replace(known.yard.soaking, days=days))
        other = replace(known, yard=yard, published=here.dates)
        found = _try(other, weeks, seed, silent, MENDING)
        more_days.append((WEEKDAYS[weekday], found.built.problem, found.plan))
    return gains_of_more(here.built.problem, here.plan, more_days, progress)


def _present(known: KnownYard, weeks: int, seed: int, progress: Progress) -> _Tried:
    """Return the plan under present circumstances: near the published one, where that reaches."""
    published = last_plan(known.yard, known.today)
    least = known.today + timedelta(weeks=weeks) - REACHES
    if published is None or published.today + timedelta(weeks=published.weeks) < least:
        return _try(known, weeks, seed, progress, SearchParams())
    start = replace(known, published=published.kept_dates())
    return _try(start, weeks, seed, progress, QUICK)


def _try(
    known: KnownYard, weeks: int, seed: int, progress: Progress, params: SearchParams
) -> _Tried:
    built, plan, _ = choose(known, weeks=weeks, seed=seed, params=params, progress=progress)
    return _Tried(built, plan)


def _of_lots(dates: GoesBy, lot_of: Mapping[str, str]) -> GoesBy:
    """Return dates for other lots: of each those of its stack, or of that stack's first lot."""
    planned: dict[str, list[date]] = {}
    for soak in dates.soaks:
        planned.setdefault(soak.stack, []).append(soak.soak_on)
    soaks = tuple(
        KeptDate(stack=lot, soak_on=day)
        for lot, row in lot_of.items()
        for day in planned.get(row, planned.get(f"{row}{SEPARATOR}1", []))
    )
    return GoesBy(soaks=soaks, stacks=tuple(sorted(lot_of)))


def _told(tried: _Tried) -> _Told:
    problem, fresh = tried.built.problem, fresh_ledger(tried.built, tried.plan)
    soaks = [len(path) for path in tried.plan]
    logs = [stack.logs for stack in problem.stacks]
    delivered: dict[str, float] = {}  # to each outlet, mean over fresh paths [kg]
    for sale, kg in zip(problem.outlets, fresh.delivered.mean(axis=1).tolist(), strict=True):
        if sale.day < problem.horizon_days:
            delivered[sale.outlet] = delivered.get(sale.outlet, 0.0) + kg
    summary = TriedPlan(
        tank_logs=problem.tank_logs,
        places=problem.places,
        demand_kg=problem.demand,
        missing_kg=expected_shortfall(problem, fresh),
        logs_soaked=int(np.dot(logs, soaks)),
        soaks=sum(soaks),
    )
    return _Told(summary, delivered, tried.dates)


def differing_soaks(
    here: Iterable[KeptDate], there: Iterable[KeptDate], *, by_row: bool = False
) -> tuple[TriedSoaks, ...]:
    """Return what differs by stack or lot, or by stack with its lots together."""

    def days(soaks: Iterable[KeptDate]) -> dict[str, tuple[date, ...]]:
        found: dict[str, tuple[date, ...]] = {}
        for soak in soaks:
            name = stack_of(soak.stack) if by_row else soak.stack
            found[name] = (*found.get(name, ()), soak.soak_on)
        return found

    before, after = days(here), days(there)
    return tuple(
        TriedSoaks(stack=stack, present=before.get(stack, ()), other=after.get(stack, ()))
        for stack in sorted({*before, *after})
        if before.get(stack) != after.get(stack)
    )


# What if one stack were soaked on a day of the grower's choice? Nothing is written.


def try_soak(
    folder: Path,
    today: date,
    words: Sequence[str],
    *,
    whole: bool = False,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> SoakTriedOut:
    """Return what a soak would bring and take, beside the plan as it is.

    `words` are as after 'fix': 'F', 'tuesday', '24', 'h'. With `whole` both plans are searched at
    length and tried on fresh luck, as a published plan is; else what stands is mended round the
    soak, which takes a moment. Raises InputError if stack or day can't be read.
    """
    try:
        read = understand(folder, today, ["fix", *words])
    except InputError as error:
        # Nothing is confirmed here, and what is shown is to be written behind 'try'.
        told = f"{error.doubts[0]}." if isinstance(error, NeedsYesError) else str(error)
        told = re.sub(r"'fix(?=[ '])", "'try", told).replace("Fix a later day", "Try a later day")
        raise InputError(told) from error
    if len(read) != 1:
        raise InputError("One soak at a time: give one stack and a day.")
    event = read[0].event
    known = as_it_stands(read_known(folder, today, horizon_days(), fetching=fetching))
    # What the diary would ask is told as what speaks against it: nothing is asked here.
    asked = [
        question.removesuffix(" Fix it all the same?").removesuffix(" Is it right?").rstrip(".")
        for question in read[0].questions
    ]
    progress("weighing it")
    other = with_word(known, event)
    return weigh_soak(known, other, event, asked=asked, whole=whole, progress=progress)


def weigh_soak(
    known: KnownYard,
    other: KnownYard,
    event: Event,
    *,
    asked: Sequence[str] = (),
    whole: bool = False,
    progress: Progress = silent,
) -> SoakTriedOut:
    """Return what a soak would bring and take, from what is known without and with it.

    `other` is what is known with the soak fixed by `event`; `asked` is what the diary would ask
    about it.
    """
    before, after = build(known), build(other)
    rule = forbidden(before, after, event.stack)
    if whole and not rule:
        sides = _searched(known, progress), _searched(other, progress)
    else:
        here = beside_published(known, before)
        sides = here, (here if rule else with_room(here, after))
    return _tried(known, event, sides, rule, [*asked, *new_cares(before, after)], whole)


def _searched(known: KnownYard, progress: Progress) -> PlanBeside:
    built, plan, _ = choose(known, progress=progress)
    return PlanBeside(built, plan, fresh_ledger(built, plan).delivered.mean(axis=1))


def _planned(here: PlanBeside, there: PlanBeside, stacks: Sequence[int]) -> tuple[SoakTried, ...]:
    """Return the next soaks of a plan on the days that another has them, if it has them all."""
    for n in stacks:
        first, other = (
            [*side.built.problem.soak_days[list(side.paths[n][:1])]] for side in (here, there)
        )
        if first != other:
            return ()
    return tuple(soak_tried(here.built, n, here.paths[n]) for n in stacks)


def _tried(
    known: KnownYard,
    event: Event,
    sides: tuple[PlanBeside, PlanBeside],
    rule: str,
    cares: Sequence[str],
    whole: bool,
) -> SoakTriedOut:
    here, there = sides
    built, problem = there.built, there.built.problem
    were = {stack.name: stack.state.fixed for stack in here.built.outlook.stacks}
    tried = [
        index
        for index, stack in enumerate(built.outlook.stacks)
        if stack.name in built.fixed.kept and stack.state.fixed != were.get(stack.name)
    ]
    before, after = (soak_dates_of(side.built.problem, side.paths) for side in sides)
    on = day_meant(event)
    assert on is not None
    return SoakTriedOut(
        today=known.today,
        units=known.yard.units,
        sells=known.yard.sells,
        stack=event.stack,
        on=on,
        hours=event.hours,
        forbidden=rule,
        cares=tuple(cares),
        whole=whole,
        soaks=() if rule else tuple(soak_tried(built, n, there.paths[n]) for n in tried),
        planned=() if rule else _planned(here, there, tried),
        sales=sales_tried(problem, there.delivered - here.delivered),
        other_soaks=differing_soaks(before, after),
    )
