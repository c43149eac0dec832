"""The plan as an answer: one document, made whole, that programs and people read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from fruitcast.arrays import FloatArray
from fruitcast.biology.picking import pick_twice
from fruitcast.diary.plan import (
    Cover,
    Covered,
    FlushUnderWay,
    GoesBy,
    Job,
    KeptDate,
    Objective,
    Pick,
    Plan,
    PlannedSoak,
    Sale,
    SalesTried,
    SoakTried,
    SoakUnderWay,
    StackDay,
    TableWeek,
    Waiting,
    Watering,
    WorkDay,
    YoungCare,
)
from fruitcast.forecast.jobs import PickWindow, StackThirst, thirsty_stacks
from fruitcast.forecast.stacks import Hold
from fruitcast.soaks.answer_parts import (
    all_jobs,
    question_words,
    silent_soaks,
    spawn_run_entries,
    water_chance_entries,
    weighing_entries,
    work_by_day,
)
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.coming import YearRound
from fruitcast.soaks.expected import SoakOutcome, likely_kg, natural_weeks, soak_outcome
from fruitcast.soaks.lot_size import LotProposal
from fruitcast.soaks.problem import Plan as Paths
from fruitcast.soaks.problem import Problem, SoakPath
from fruitcast.soaks.reasons import Explainer, Published, changes, covered, hold_words
from fruitcast.soaks.shortage import short_sales
from fruitcast.soaks.supply import Ledger, Parts, expected_shortfall, likely_range, promised
from fruitcast.soaks.waiting import wait_of
from fruitcast.units import SHOWN_AS_NONE_KG, Units, format_weight
from fruitcast.words import day_words

Outcomes = dict[tuple[int, int], SoakOutcome]
"""What every planned soak brings, by stack and step of its path."""

MET_WITHIN = 0.001
"""A target missed by less than a gram is met. [kg]"""


@dataclass(frozen=True)
class Beside:
    """What a plan tells besides its soaks and what they bring."""

    # notes, doubts: what the grower should know: of what the plan rests on, and of the plan itself
    notes: tuple[str, ...]
    doubts: tuple[str, ...]
    goes_by: GoesBy | None  # the published soaks to go by
    # under_way, flushes, rest_ends, ready: what is on its way whatever the plan
    under_way: tuple[SoakUnderWay, ...]
    flushes: tuple[FlushUnderWay, ...]
    rest_ends: tuple[StackDay, ...]
    ready: tuple[StackDay, ...]
    advice: tuple[str, ...]  # what is worth trying
    care: tuple[YoungCare, ...]  # what young logs want
    lots: LotProposal | None = None  # lots that would suit the outlets
    year_round: YearRound | None = None  # what a usual year brings of itself, where nothing is sold


def plan_document(
    built: BuiltProblem,
    paths: Paths,
    parts: Parts,
    ledger: Ledger,
    fresh: Ledger,
    explainer: Explainer,
    *,
    published: Published,
    bound: float | None,
    beside: Beside,
) -> Plan:
    """Return a plan as a document, unrounded.

    `parts` and `ledger` are its objective and what it delivers on the members that it was chosen
    by; all that is said of supply comes from `fresh`, what it delivers on fresh paths. `published`
    are the coming soaks of the plan before, `bound` is None when none was asked for. [kg]
    """
    problem, outlook = built.problem, built.outlook
    outcomes = _outcomes(built, paths)
    listed = all_jobs(outlook, _windows(built, outcomes))
    thirsts = thirsty_stacks(outlook)
    asked = [question_words(q, outlook.yard.units) for q in outlook.learned.questions]
    asked += silent_soaks(outlook, outlook.numbers.forced)
    sells, year = outlook.yard.sells, beside.year_round
    return Plan(
        today=problem.today,
        weeks=problem.weeks,
        soaks=_soaks(built, paths, explainer, outcomes, listed),
        outlets=given_promises(_outlets(problem, fresh), outlook.state.promised) if sells else (),
        natural=natural_weeks(built, paths),
        water=_water(thirsts),
        water_chance=water_chance_entries(thirsts, outlook),
        not_soaked=tuple(explainer.left_alone(n) for n, path in enumerate(paths) if not path),
        waits=_waits(problem, explainer),
        jobs=tuple(listed),
        spawn_run=spawn_run_entries(outlook),
        weighings=weighing_entries(outlook),
        learned=outlook.learned.factors,
        objective=Objective(
            shortfall=parts.shortfall,
            expired=parts.expired,
            soaks=parts.soaks,
            change=parts.change,
            end_value=parts.end_value,
            certainty=parts.certainty if problem.prices.certainty else None,
        ),
        objective_kg=parts.total,
        bound_kg=bound,
        demand_kg=problem.demand if sells else 0.0,
        expected_shortfall_kg=expected_shortfall(problem, fresh) if sells else None,
        members=problem.members,
        promise=problem.promise,
        seed=problem.seed,
        warnings=(*beside.notes, *asked, *beside.doubts),
        goes_by=beside.goes_by,
        changes=tuple(changes(explainer, published)),
        short=short_sales(problem, paths, ledger, fresh, explainer.tables) if sells else (),
        under_way=beside.under_way,
        flushes=beside.flushes,
        rest_ends=beside.rest_ends,
        ready=beside.ready,
        advice=beside.advice,
        care=beside.care,
        lots=() if beside.lots is None else beside.lots.stacks,
        usual_week_kg=None if beside.lots is None else beside.lots.week_target,
        work=_work(built, paths),
        table=() if sells else _table(problem, fresh),
        natural_seasons=year.seasons if year else (),
        midsummer=year.soaks if year else (),
    )


def unkept_words(built: BuiltProblem) -> list[str]:
    """Return which fixed soaks the plan can't keep, and the rule that forbids each."""
    stacks = {stack.name: stack for stack in built.outlook.stacks}
    found = []
    for name, rule in built.fixed.refused.items():
        fixed = stacks[name].state.fixed
        why = hold_words(rule, stacks[name]) if isinstance(rule, Hold) else rule
        on = day_words(fixed[0], built.problem.today) if fixed else ""
        found.append(f"{name} can't be soaked on {on}, as you fixed it: {why}.")
    return found


def soak_dates_of(problem: Problem, paths: Paths) -> tuple[KeptDate, ...]:
    """Return stack and day of every soak, in order of day."""
    found = [
        KeptDate(stack=stack.name, soak_on=problem.soaked_on(soak))
        for stack, path in zip(problem.stacks, paths, strict=True)
        for soak in path
    ]
    return tuple(sorted(found, key=lambda soak: (soak.soak_on, soak.stack)))


def _outcomes(built: BuiltProblem, paths: Paths) -> Outcomes:
    """Return what every planned soak brings, by stack and step."""
    return {
        (index, step): soak_outcome(built, index, path, step)
        for index, path in enumerate(paths)
        for step in range(len(path))
    }


def _windows(built: BuiltProblem, outcomes: Outcomes) -> list[PickWindow]:
    """Return the pick windows of the planned soaks."""
    roof = built.outlook.yard.fruiting.under_cover
    return [
        PickWindow(built.problem.stacks[index].name, out.pick_row, out.past_row, out.comes, roof)
        for (index, _), out in outcomes.items()
    ]


def _cover(listed: list[Job], stack: str, first: date, last: date) -> Cover | None:
    """Return the cover that one flush wants; None when no rain is forecast on it."""
    wanted = [
        job
        for job in listed
        if job.kind == "cover" and job.stack == stack and first <= job.on <= last
    ]
    if not wanted:
        return None
    return Cover(first=wanted[0].on, last=wanted[-1].until, reason=wanted[0].reason)


def _soaks(
    built: BuiltProblem,
    paths: Paths,
    explainer: Explainer,
    outcomes: Outcomes,
    listed: list[Job],
) -> tuple[PlannedSoak, ...]:
    problem, futures = built.problem, built.outlook.futures
    found: list[PlannedSoak] = []
    for (index, step), outcome in outcomes.items():
        stack, soak = problem.stacks[index], paths[index][step]
        tried = _told(built, index, soak, outcome)
        standing = timedelta(days=int(problem.types[stack.type_index].standing[soak]))
        covers = explainer.covers(index, step)
        last = futures.date(outcome.last_pick(0.9))
        found.append(
            PlannedSoak(
                **dict(tried),
                pins_on=futures.date(outcome.pins(0.5)),
                clear_on=None if problem.places is None else tried.pull_on + standing,
                cover=_cover(listed, stack.name, tried.pick.p10, last),
                covers=tuple(covers) if built.outlook.yard.sells else (),
                reasons=tuple(explainer.soak_reasons(index, step, covers)),
                fixed=step == 0 and stack.must is not None,
            )
        )
    return tuple(sorted(found, key=lambda soak: (soak.soak_on, soak.stack)))


def _work(built: BuiltProblem, paths: Paths) -> tuple[WorkDay, ...]:
    """Return the hours of work day by day."""
    problem, outlook, numbers = built.problem, built.outlook, built.outlook.numbers
    first = outlook.futures.lookback
    tmax = outlook.futures.tmax[first : first + problem.days]
    twice = pick_twice(tmax, twice_from=numbers.picking.twice_from)
    return work_by_day(problem, paths, twice, saleable=outlook.yard.saleable, work=numbers.work)


def _outlets(problem: Problem, fresh: Ledger) -> tuple[Sale, ...]:
    found: list[Sale] = []
    for sale, outlet in enumerate(problem.outlets):
        if outlet.day >= problem.horizon_days:
            continue
        available, delivered = fresh.available[sale], fresh.delivered[sale]
        low, high = likely_range(available, 0.8, problem.members, problem.past_years)
        sure = promised(available, problem.promise, problem.members, problem.past_years)
        found.append(
            Sale(
                outlet=outlet.outlet,
                on=problem.on(outlet.day),
                target_kg=outlet.target,
                delivered_kg=min(float(delivered.mean()), outlet.target),
                available_p10_kg=float(low),
                available_p90_kg=float(high),
                chance=float((delivered >= outlet.target - MET_WITHIN).mean()),
                promise_kg=min(outlet.target, float(sure)),
            )
        )
    return tuple(found)


def given_promises(
    sales: tuple[Sale, ...], promised: tuple[tuple[str, date, float], ...]
) -> tuple[Sale, ...]:
    """Return the sales with what was promised beside what can be."""
    given = {(outlet, on): kg for outlet, on, kg in promised}
    return tuple(
        sale.model_copy(update={"given_kg": given.get((sale.outlet, sale.on))}) for sale in sales
    )


def broken_promises(plan: Plan, units: Units) -> list[str]:
    """Return a sentence for each promise that can't be kept with the chance asked for."""
    return [
        f"{sale.outlet} on {day_words(sale.on)}: {format_weight(sale.given_kg, units)} were "
        f"promised, and {_sure_words(sale, units)}."
        for sale in plan.outlets
        if sale.given_kg and is_too_unlikely(sale)
    ]


def is_too_unlikely(sale: Sale) -> bool:
    """Return whether a promise is short of the chance asked for by more than a scale's step."""
    given = sale.given_kg or 0.0
    return sale.promise_kg < given - min(SHOWN_AS_NONE_KG / 2, 0.02 * given)


def _sure_words(sale: Sale, units: Units) -> str:
    if sale.promise_kg < SHOWN_AS_NONE_KG:
        return "none of it is likely enough"
    return f"only {format_weight(sale.promise_kg, units)} of it is likely enough"


def promise_doubt(sale: Sale | None, units: Units) -> str:
    """Return what a promise that is too unlikely lacks, and what to do: a sentence."""
    if sale is None:
        return "It can't be kept."
    words = _sure_words(sale, units)
    return f"{words[:1].upper()}{words[1:]}: tell them in time."


def _table(problem: Problem, fresh: Ledger) -> tuple[TableWeek, ...]:
    """Return what comes to the table by weeks, from one day on which it is counted to the next."""
    days = np.array([sale.day for sale in problem.outlets], dtype=np.int64)
    targets = np.array([sale.target for sale in problem.outlets], dtype=float)
    found = []
    for before, day in pairwise([-1, *np.unique(days).tolist()]):
        if day >= problem.horizon_days:
            break
        eaten = fresh.delivered[days == day].sum(axis=0)
        low, high = likely_range(eaten, 0.8, problem.members, problem.past_years)
        found.append(
            TableWeek(
                first=problem.on(max(before, 0)),
                last=problem.on(max(day - 1, 0)),
                expected_kg=float(eaten.mean()),
                p10_kg=float(low),
                p90_kg=float(high),
                most_kg=float(targets[days == day].sum()),
            )
        )
    return tuple(found)


def _water(thirsts: list[StackThirst]) -> tuple[Watering, ...]:
    found: list[Watering] = []
    for thirst in thirsts:
        advice = thirst.advice
        if thirst.on is None:
            continue
        found.append(
            Watering(
                stack=thirst.stack,
                on=thirst.on,
                moisture_wet=advice.moisture_wet,
                mm=advice.amount,
                hours=advice.hours,
                litres_per_log=advice.litres_per_log,
                urgent=advice.urgent,
                reason=advice.reason,
            )
        )
    return tuple(sorted(found, key=lambda water: (water.on, water.stack)))


def _waits(problem: Problem, explainer: Explainer) -> tuple[Waiting, ...]:
    found = []
    for index, stack in enumerate(problem.stacks):
        wait = wait_of(explainer, index)
        if wait is None:
            continue
        tried = wait.tried
        found.append(
            Waiting(
                stack=stack.name,
                causes=wait.causes,
                reason=wait.words,
                soak=soak_tried(explainer.built, index, tried.path) if tried else None,
                sales=sales_tried(problem, tried.more) if tried else None,
            )
        )
    return tuple(found)


def soak_tried(built: BuiltProblem, index: int, path: SoakPath) -> SoakTried:
    """Return the first soak of a path that is only tried, as an entry."""
    return _told(built, index, path[0], soak_outcome(built, index, path, 0))


def _told(built: BuiltProblem, index: int, soak: int, outcome: SoakOutcome) -> SoakTried:
    """Return a stack's soak with what it brings."""
    problem, futures, stack = built.problem, built.outlook.futures, built.problem.stacks[index]
    arcs, on = problem.types[stack.type_index], problem.soaked_on(soak)
    p10, p50, p90 = (futures.date(outcome.first_pick(share)) for share in (0.1, 0.5, 0.9))
    # A soak that the grower has fixed may bring nothing in any of the years.
    comes, fails = outcome.comes.any(), built.outlook.learned.fails
    low, high = likely_kg(outcome.kg, fails) if comes else (None, None)
    return SoakTried(
        stack=stack.name,
        logs=stack.logs,
        soak_on=on,
        hours=float(arcs.hours[soak]),
        pull_on=on + timedelta(days=int(arcs.nights[soak])),
        pick=Pick(p10=p10, p50=p50, p90=p90),
        comes=outcome.chance(fails),
        expected_kg=float(outcome.kg.mean()),
        kg_p10=low,
        kg_p90=high,
    )


def sales_tried(problem: Problem, more: FloatArray) -> SalesTried:
    """Return what sales get more or less, from what each gets more: (sale,). [kg]"""

    def changed(sign: int) -> tuple[Covered, ...]:
        kg = sign * more
        order = np.argsort(-kg, kind="stable")[: int((kg >= SHOWN_AS_NONE_KG).sum())]
        return tuple(covered(problem, n, float(kg[n])) for n in order.tolist())

    return SalesTried(feeds=changed(1), takes=changed(-1), sold_kg=float(more.sum()))
