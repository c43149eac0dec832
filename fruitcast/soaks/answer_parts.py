"""The parts of a plan that tell of the stacks themselves, whatever the plan.

`learned`: what the diary's flushes say beside the table. `spawn_run`: how far young stacks
are. `weighings`: sample logs beside the model. `water_chance`: how likely watering is beyond
the known weather. `jobs`: cover, pick twice, inspect, weigh, retire.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from fruitcast.biology.wood import wet_from_dry
from fruitcast.diary.plan import Job, Learned, LikelyDays, SpawnRun, WateringChance, WeighedLog
from fruitcast.forecast import one_job
from fruitcast.forecast.care_jobs import care_jobs
from fruitcast.forecast.jobs import StackThirst
from fruitcast.forecast.learned import Question, YardLearning
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.forecast.picking_jobs import PickWindow, picking_jobs, windows_under_way
from fruitcast.topics import ForcedNumbers
from fruitcast.units import Units, format_weight
from fruitcast.words import day_words

SLOW_WORDS = {
    "cold": "cool weather",
    "hot": "heat",
    "dry": "dry logs",
    "thick": "thick logs",
    "plugs": "plug spawn, slower than sawdust",
}
"""What slows a spawn run, by the causes of `shiitake.spawn_run.SLOW_CAUSES`."""

SIGNS = ("white mycelium at the log ends", "springy bark", "a dull sound when knocked")
"""Signs that a spawn run is done. Common practice."""

CHANCE_DAYS = (7, 14, 21)
"""Days ahead for which the chance of a watering is given. [day]"""

LEAST_CHANCE_SHOWN = 0.05

_ASKED_DAYS = 60
"""Nobody is asked for longer what came of a soak. [day]"""


def learned_entries(learning: YardLearning) -> tuple[Learned, ...]:
    """Return what was learned, before and after, by class and tree species."""
    return tuple(
        Learned(
            strain_class=found.strain_class,
            tree=found.tree,
            flushes=found.flushes,
            yield_factor=found.yield_factor,
            kg_per_log_before=found.kg_before,
            kg_per_log_after=found.kg_after,
            lead_flushes=found.lead_flushes,
            lead_factor=found.lead_factor,
            lead_degree_days_before=found.warmth_before,
            lead_degree_days_after=found.warmth_after,
            asked=found.asked,
        )
        for found in learning.factors
    )


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
                ready=LikelyDays(
                    p10=spawn.early, p50=spawn.middle, p80=spawn.likely, p90=spawn.late
                ),
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


def all_jobs(outlook: YardOutlook, planned: Sequence[PickWindow]) -> list[one_job.Job]:
    """Return every job, in order of day.

    Parameters
    ----------
    outlook : YardOutlook
        The yard.
    planned : sequence of PickWindow
        Pick windows of the soaks in the coming days.
    """
    numbers = outlook.numbers
    windows = [*windows_under_way(outlook), *planned]
    found = picking_jobs(windows, outlook.futures, outlook.yard.units, numbers.picking)
    found += care_jobs(outlook)
    return sorted(found, key=lambda job: (job.on, job.kind, job.stack))


def job_entries(listed: Sequence[one_job.Job]) -> tuple[Job, ...]:
    """Return jobs as entries of the plan."""
    return tuple(
        Job(kind=job.kind, stack=job.stack, on=job.on, until=job.until, reason=job.reason)
        for job in listed
    )
