"""Parts of a plan beside its soaks: hours of work by day, and what stacks themselves ask for.

`learned`: what the diary's flushes say beside the table. `spawn_run`: how far young stacks
are. `weighings`: sample logs beside the model. `water_chance`: how likely watering is beyond
the known weather. `jobs`: cover, pick twice, inspect, weigh, retire.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.biology.wood import wet_from_dry
from fruitcast.diary.plan import (
    Job,
    SpawnRun,
    WateringChance,
    WeighedLog,
    WorkDay,
)
from fruitcast.forecast.jobs import (
    PickWindow,
    StackThirst,
    care_jobs,
    picking_jobs,
    windows_under_way,
)
from fruitcast.forecast.learned import Question
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.soaks.problem import Crops, Occupancy, Plan, Problem, SoakPath
from fruitcast.topics import ForcedNumbers, WorkNumbers
from fruitcast.units import Units, format_weight
from fruitcast.words import day_words

# Hours of work day by day: soaking, pulling, and what it takes to pick what comes.
#
# Soaking and pulling are limits of the plan; picking is not, since mushrooms come when they come.
# It is told beside them, so that a day with too much of it is seen ahead.

LEAST_HOURS = 0.1
"""Days with less work than this are not listed. [h]"""

NEAR_DAYS = 28
"""Of later days only those are listed that have too much: on which of them what is ripe nobody can
know. [day]"""


def work_by_day(
    problem: Problem, plan: Plan, twice: BoolArray, *, saleable: float, work: WorkNumbers
) -> tuple[WorkDay, ...]:
    """Return the near days that have some work, and the later ones that have too much, in order.

    `twice`, (day, member), says on which days caps open so fast that they are picked twice; what
    can't be sold of the crop is picked too.
    """
    days = problem.horizon_days
    picking = picking_hours(problem, plan, twice, saleable=saleable, work=work)[:days]
    begun = Occupancy(problem)
    soaking = np.zeros(problem.limit_days)
    for stack, path in enumerate(plan):
        begun.add(stack, path)
        logs = problem.stacks[stack].logs
        for soak in path:
            soaking[problem.soak_days[soak]] += logs * problem.soak_hours_per_log
    found = []
    for day in range(days):
        pulling = max(float(begun.hours[day] - soaking[day]), 0.0)
        allowed = float(problem.hours_on[day])
        work_day = WorkDay(
            on=problem.on(day),
            soaking_hours=float(soaking[day]),
            pulling_hours=pulling,
            picking_hours=float(picking[day]),
            allowed_hours=allowed if np.isfinite(allowed) else None,
            twice=float(twice[day].mean()),
        )
        if work_day.hours >= LEAST_HOURS and (day < NEAR_DAYS or work_day.over):
            found.append(work_day)
    return tuple(found)


def picking_hours(
    problem: Problem, plan: Plan, twice: BoolArray, *, saleable: float, work: WorkNumbers
) -> FloatArray:
    """Return the hours of picking on each day, mean over the members: (day,). [h]

    Every log in flush is looked over once a day, twice in heat; what is ripe is cut.
    """
    looked = np.zeros((problem.days, problem.members))
    picked = np.zeros((problem.days, problem.members))
    for stack, path in enumerate(plan):
        kg = np.zeros_like(picked)
        for crops, row, scale in _legs(problem, stack, path):
            mine = np.asarray(crops.row) == row
            day = np.asarray(crops.day)[mine]
            inside = (day >= 0) & (day < problem.days)
            member = np.asarray(crops.member)[mine][inside]
            weight = scale * np.asarray(crops.kg, dtype=np.float64)[mine][inside]
            np.add.at(kg, (day[inside], member), weight)
        picked += kg
        looked += problem.stacks[stack].logs * (kg > 0)
    rounds = 1 + twice[: problem.days]
    hours = looked * rounds * work.look_hours_per_log + picked / saleable * work.pick_hours_per_kg
    return np.asarray(hours.mean(axis=1))


def _legs(problem: Problem, stack: int, path: SoakPath) -> Iterator[tuple[Crops, int, float]]:
    """Yield the crops of one path: the table they stand in, their row, and the scale."""
    mine = problem.stacks[stack]
    kind = problem.types[mine.type_index]
    if not path:
        yield mine.first.none_crops, 0, 1.0
        return
    yield mine.first.crops, int(np.searchsorted(mine.first.soak, path[0])), 1.0
    for arc in pairwise(path):
        yield kind.crops, kind.pairs[arc], mine.effective_logs
    yield kind.end_crops, path[-1], mine.effective_logs


# The parts of a plan that tell of the stacks themselves, whatever the plan.

SLOW_WORDS = {
    "cold": "cool weather",
    "hot": "heat",
    "dry": "dry logs",
    "thick": "thick logs",
    "plugs": "plug spawn, slower than sawdust",
}
"""What slows a spawn run, by the causes of `biology.spawn_run.SLOW_CAUSES`."""

SIGNS = ("white mycelium at the log ends", "springy bark", "a dull sound when knocked")
"""Signs that a spawn run is done. Common practice."""

CHANCE_DAYS = (7, 14, 21)
"""Days ahead for which the chance of a watering is given. [day]"""

LEAST_CHANCE_SHOWN = 0.05

_ASKED_DAYS = 60
"""Nobody is asked for longer what came of a soak. [day]"""


def question_words(question: Question, units: Units) -> str:
    """Return one question about a flush in words, with what to do."""
    flush = (
        f"the soak of {day_words(question.soaked_on, date.min)}"
        if question.soaked_on
        else f"the natural flush of {day_words(question.first_pick, date.min)}"
    )
    if question.quantity == "yield":
        said = (
            f"{format_weight(question.observed, units)} picked from {flush}, where about "
            f"{format_weight(question.expected, units)} was to be expected. Is this pick right?"
        )
    else:
        said = (
            f"first picked {question.observed:.0f} days after the pull of {flush}, where about "
            f"{question.expected:.0f} were to be expected. Is the day right?"
        )
    return (
        f"{question.stack}: {said} Nothing is learned from it until it is put right, or recorded "
        "again with 'confirmed' in its note."
    )


def silent_soaks(outlook: YardOutlook, forced: ForcedNumbers) -> list[str]:
    """Return a question for each soak of which nothing is written down though it is over."""
    today = outlook.futures.today
    found: dict[str, str] = {}
    for stack in outlook.stacks:
        soak = stack.state.last_soak
        if soak is None or soak.pulled_on is None or soak.brought_nothing:
            continue
        late = (today - soak.pulled_on).days - forced.longest_days
        picked = any(pick.soaked_on == soak.on for pick in stack.state.picks)
        if 0 < late <= _ASKED_DAYS and not picked:
            row = stack.stack.name
            found[row] = (
                f"{row}: nothing is written down of the soak of {day_words(soak.on, date.min)}. "
                f"Record what was picked, or 'nothing {row}' if nothing came: soaks that fail "
                "teach what to expect."
            )
    return list(found.values())


def spawn_run_entries(outlook: YardOutlook) -> tuple[SpawnRun, ...]:
    """Return every spawn run that is not done for sure, with its range and what slows it."""
    found: list[SpawnRun] = []
    for stack in outlook.stacks:
        spawn = stack.spawn
        if spawn.seen or not stack.state.logs or spawn.sure_row <= outlook.futures.lookback:
            continue
        found.append(
            SpawnRun(
                stack=stack.name,
                progress=spawn.progress,
                ready=spawn.ready,
                slowed_by=tuple(SLOW_WORDS[cause] for cause in spawn.slowed_by),
                signs=SIGNS,
                inspected_on=stack.state.inspected_on,
                findings=tuple(stack.state.findings),
            )
        )
    return tuple(found)


def weighing_entries(outlook: YardOutlook) -> tuple[WeighedLog, ...]:
    """Return the last weighing of each stack beside what the model had for that evening."""
    return tuple(
        WeighedLog(
            stack=stack.name,
            on=weighing.on,
            weighed_wet=float(wet_from_dry(weighing.found)),
            modelled_wet=float(wet_from_dry(weighing.modelled)),
        )
        for stack in outlook.stacks
        if (weighing := stack.dampness.weighing) is not None
    )


def water_chance_entries(
    thirsts: Sequence[StackThirst], outlook: YardOutlook
) -> tuple[WateringChance, ...]:
    """Return how likely each stack wants water by some days ahead, if none is given."""
    today = outlook.futures.today
    return tuple(
        WateringChance(
            stack=thirst.stack,
            by=today + timedelta(days=days - 1),
            chance=float(chances[days - 1]),
        )
        for thirst in thirsts
        for days in CHANCE_DAYS
        if len(chances := thirst.advice.chance_by_day) >= days
        and thirst.on is None
        and chances[days - 1] >= LEAST_CHANCE_SHOWN
    )


def all_jobs(outlook: YardOutlook, planned: Sequence[PickWindow]) -> list[Job]:
    """Return every job, in order of day; `planned` are the pick windows of the soaks to come."""
    numbers = outlook.numbers
    windows = [*windows_under_way(outlook), *planned]
    found = picking_jobs(windows, outlook.futures, outlook.yard.units, numbers.picking)
    found += care_jobs(outlook)
    return sorted(found, key=lambda job: (job.on, job.kind, job.stack))
