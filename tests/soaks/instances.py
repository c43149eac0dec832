"""Makers of scheduling problems for tests and benchmarks: small random ones, whole yards.

Nothing here is horticulture to be relied on. The weather is a sine with noise, the crops
are round figures, but their shape is the real one: lead times of 6 to 17 days that follow
the temperature, a natural flush that voids a soak, rest that scales the crop, soak days
twice a week, a tank that holds a few stacks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.soaks.problem import (
    Crops,
    FirstArcs,
    OutletDay,
    Problem,
    StackProblem,
    TypeArcs,
)
from tests.soaks.hand import PRICES

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

NEVER = 10**6
FORCED_SHAPE = np.array([0.2, 0.35, 0.25, 0.15, 0.05])
NATURAL_SHAPE = np.array([0.15, 0.3, 0.25, 0.2, 0.1])
NATURAL_STEP = 3  # days between the picks of a natural flush
NATURAL_LEAD = 9
NATURAL_LENGTH = NATURAL_LEAD + NATURAL_STEP * (len(NATURAL_SHAPE) - 1)


@dataclass(frozen=True)
class Fruiting:
    """How one type of stack crops under the weather of each member.

    Attributes
    ----------
    lead : (day, member) int array
        Days from the pull to the first pick. [day]
    forced : (day, member) float array
        Forced crop of a rested stack when soaked on that day. [kg per log]
    triggers : (member, flush) int array
        Days on which natural flushes start, `NEVER` to fill. [day]
    natural : float
        Natural crop of a rested stack. [kg per log]
    nights : (day,) int array
        Days in the tank when soaked on that day. [day]
    rest : int
        Days to full rest. [day]
    """

    lead: IntArray
    forced: FloatArray
    triggers: IntArray
    natural: float
    nights: IntArray
    rest: int

    def standing(self, soak_days: IntArray) -> IntArray:
        """Return the days from the pull through the last pick of the slowest member."""
        pull = soak_days + self.nights[soak_days]
        return self.lead[pull].max(axis=1) + len(FORCED_SHAPE)


def member_temperature(
    rng: np.random.Generator, today: date, days: int, members: int, noise: float = 2.5
) -> FloatArray:
    """Return daily mean temperatures of a continental site by day and member. [degC]"""
    day_of_year = today.timetuple().tm_yday + np.arange(days)
    seasonal = 11.0 - 13.0 * np.cos(2 * np.pi * (day_of_year - 15) / 365.25)
    swing = np.zeros((days, members))
    kicks = rng.normal(0.0, noise * 0.6, (days, members))
    for day in range(1, days):
        swing[day] = 0.8 * swing[day - 1] + kicks[day]
    return np.asarray(seasonal[:, None] + swing)


def make_fruiting(
    rng: np.random.Generator,
    temp: FloatArray,
    best: float,
    width: float,
    natural: float,
    rest: int,
    flush_chance: float = 0.02,
) -> Fruiting:
    """Return how a type with its best crop at `best` degC crops under `temp`."""
    days, members = temp.shape
    warmth = np.vstack([np.zeros(members), np.cumsum(np.clip(temp - 5.0, 0.0, None), axis=0)])
    lead = np.empty((days, members), dtype=np.int64)
    for member in range(members):
        ripe = np.searchsorted(warmth[:, member], warmth[:-1, member] + 100.0)
        lead[:, member] = np.clip(ripe - np.arange(days), 6, 17)
    fit = np.exp(-0.5 * ((temp - best) / width) ** 2)
    scatter = rng.lognormal(-0.02, 0.2, (days, members))
    forced = np.where(fit > 0.25, 0.16 * fit * scatter, 0.0)
    triggers = np.full((members, max(2, days // 60)), NEVER, dtype=np.int64)
    chance = flush_chance * np.exp(-0.5 * ((temp - best) / (0.6 * width)) ** 2)
    sparks = rng.random((days, members)) < chance
    for member in range(members):
        last, flush = -NEVER, 0
        for day in np.flatnonzero(sparks[:, member]):
            if day - last >= rest and flush < triggers.shape[1]:
                triggers[member, flush] = last = int(day)
                flush += 1
    nights = np.where(temp.mean(axis=1) < 12.0, 2, 1).astype(np.int64)
    return Fruiting(lead, forced, triggers, natural, nights, rest)


def arc_crops(fruiting: Fruiting, since: IntArray, soak: IntArray, effective_logs: float) -> Crops:
    """Return the crops of arcs from day `since` to a soak on day `soak`.

    A soak day of `NEVER` or later makes a closing arc: natural flushes only.
    """
    rest = fruiting.rest
    members = fruiting.lead.shape[1]
    member = np.arange(members)
    trigger = fruiting.triggers[None, :, :]
    begun = since[:, None, None]
    end = soak[:, None, None]
    bears = (trigger >= begun + (7 * rest) // 9) & (trigger < end) & (trigger < NEVER)
    first_pick = np.where(bears, trigger + NATURAL_LEAD, -NEVER)
    natural_kg = np.where(
        bears, effective_logs * fruiting.natural * np.clip((trigger - begun) / rest, 0.0, 1.0), 0.0
    )
    parts = []
    row, who, _ = np.nonzero(natural_kg)
    kg = natural_kg[natural_kg > 0]
    first = first_pick[natural_kg > 0]
    for step, share in enumerate(NATURAL_SHAPE):
        parts.append((row, who, first + NATURAL_STEP * step, kg * share))
    forced_rows = np.flatnonzero(soak < NEVER)
    if len(forced_rows):
        on = soak[forced_rows]
        last_pick = first_pick[forced_rows].max(axis=2)
        running = (last_pick + NATURAL_LENGTH - NATURAL_LEAD >= on[:, None]) & (last_pick > -NEVER)
        rested = np.minimum(on - since[forced_rows], 90)[:, None] * np.ones(members)
        rested = np.where(last_pick > -NEVER, np.minimum(rested, on[:, None] - last_pick), rested)
        factor = np.where(running, 0.0, np.clip(rested / rest, 0.0, 1.15))
        crop = effective_logs * fruiting.forced[on] * factor
        pull = on + fruiting.nights[on]
        pick = pull[:, None] + fruiting.lead[pull]
        which, who = np.nonzero(crop)
        for step, share in enumerate(FORCED_SHAPE):
            parts.append(
                (forced_rows[which], who, pick[which, who] + step, crop[which, who] * share)
            )
    row, who, day, kg = (np.concatenate(column) for column in zip(*parts, strict=True))
    late = day >= 0
    order = np.lexsort((day[late], member[who[late]], row[late]))
    return Crops(
        row=row[late][order].astype(np.int64),
        member=who[late][order].astype(np.int64),
        day=day[late][order].astype(np.int64),
        kg=kg[late][order].astype(np.float64),
    )


def make_type(
    name: str, fruiting: Fruiting, soak_days: IntArray, rest_days: int, allowed: BoolArray
) -> TypeArcs:
    """Return all interior arcs between the allowed soak days at least `rest_days` apart."""
    gap = soak_days[None, :] - soak_days[:, None]
    start, stop = np.nonzero((gap >= rest_days) & allowed[None, :] & allowed[:, None])
    return TypeArcs(
        name=name,
        start=start.astype(np.int64),
        stop=stop.astype(np.int64),
        crops=arc_crops(fruiting, soak_days[start], soak_days[stop], 1.0),
        end_crops=arc_crops(fruiting, soak_days, np.full(len(soak_days), NEVER), 1.0),
        nights=fruiting.nights[soak_days],
        standing=fruiting.standing(soak_days),
        hours=24.0 * fruiting.nights[soak_days],
        allowed=allowed,
    )


def make_first(
    fruiting: Fruiting,
    soak_days: IntArray,
    allowed: BoolArray,
    since: int,
    ready: int,
    effective_logs: float,
) -> FirstArcs:
    """Return a stack's first arcs: soaks from day `ready` on, resting since day `since`."""
    soak = np.flatnonzero(allowed & (soak_days >= ready))
    return FirstArcs(
        soak=soak.astype(np.int64),
        crops=arc_crops(fruiting, np.full(len(soak), since), soak_days[soak], effective_logs),
        none_crops=arc_crops(fruiting, np.array([since]), np.array([NEVER]), effective_logs),
    )


def small_problem(
    seed: int,
    stacks: int | None = None,
    weeks: int | None = None,
    members: int | None = None,
    equal_weights: bool = True,
) -> Problem:
    """Return a random problem of at most 4 stacks, 10 weeks and 3 members.

    Rest is short (14 to 35 days) so that a stack may be soaked more than once.
    """
    rng = np.random.default_rng([seed, 11])
    stacks = int(rng.integers(1, 5)) if stacks is None else stacks
    weeks = int(rng.integers(5, 11)) if weeks is None else weeks
    members = int(rng.integers(1, 4)) if members is None else members
    rest = int(rng.choice([14, 21, 28, 35]))
    today = date(2027, 4, 5) + timedelta(days=7 * int(rng.integers(0, 22)))  # a Monday
    tail = 35
    temp = member_temperature(rng, today, 7 * weeks + tail + 60, members)
    weekdays = [int(day) for day in rng.choice(6, size=int(rng.integers(1, 3)), replace=False)]
    soak_days = np.array([day for day in range(7 * weeks) if day % 7 in weekdays], dtype=np.int64)
    types, fruitings = [], []
    for index in range(int(rng.integers(1, 3))):
        best = float(rng.choice([11.0, 17.0, 22.0]))
        fruiting = make_fruiting(rng, temp, best, 7.0, 0.15, rest)
        allowed = (fruiting.forced[soak_days] > 0).mean(axis=1) >= 0.5
        fruitings.append(fruiting)
        types.append(make_type(f"type {index}", fruiting, soak_days, rest, allowed))
    made = []
    tank = 0
    for index in range(stacks):
        kind = int(rng.integers(len(types)))
        logs = int(rng.integers(6, 31))
        tank = max(tank, logs)
        effective_logs = logs * float(rng.uniform(0.6, 1.3))
        since = -int(rng.integers(0, 2 * rest))
        fixed, young = 0, False
        ready = max(0, since + rest)
        if rng.random() < 0.15:  # still in the tank
            since, fixed = 1 - int(types[kind].nights[0]), 1
            ready = since + rest
        elif rng.random() < 0.15:  # a young stack, ready later
            young = True
            ready = int(rng.integers(1, 7 * weeks))
            since = ready - rest
        first = make_first(
            fruitings[kind], soak_days, types[kind].allowed, since, ready, effective_logs
        )
        was = bool(rng.random() < 0.5)
        published = None
        if was and len(first.soak) and rng.random() < 0.8:
            published = int(soak_days[rng.choice(first.soak)])
        made.append(
            StackProblem(
                name="ABCDEFGH"[index],
                logs=logs,
                type_index=kind,
                effective_logs=effective_logs,
                first=first,
                end_flush=0.12 * effective_logs,
                rested_from=ready if young else since,
                published=published,
                was_published=was,
                fixed_nights=fixed,
                handling=0.04 * (index % 3),
            )
        )
    total = sum(stack.logs for stack in made)
    tank = int(rng.integers(tank, total + 1)) if rng.random() < 0.7 else total
    hours = None if rng.random() < 0.6 else float(0.1 * rng.integers(tank // 2, total + 1) + 1.0)
    outlets = []
    for name in ("Farm gate", "Market")[: int(rng.integers(1, 3))]:
        weekday = int(rng.integers(7))
        target = float(rng.uniform(0.03, 0.12)) * total / 7
        weight = 1.0 if equal_weights else float(rng.choice([0.5, 1.0, 2.0]))
        outlets += [
            OutletDay(name, day, target, weight)
            for day in range(7 * weeks + tail)
            if day % 7 == weekday
        ]
    outlets.sort(key=lambda outlet: (outlet.day, -outlet.weight, outlet.outlet))
    stock: tuple[tuple[int, float], ...] = ()
    cold = int(rng.integers(3, 13))
    if rng.random() < 0.4:
        stock = ((-int(rng.integers(0, cold)), float(rng.uniform(0.2, 2.0))),)
    return Problem(
        today=today,
        weeks=weeks,
        tail_days=tail,
        years=tuple(2001 + member for member in range(members)),
        seed=seed,
        soak_days=soak_days,
        next_soak_day=7 * weeks + min(weekdays),
        rest_days=rest,
        tank_logs=tank,
        hours_a_day=hours,
        soak_hours_per_log=0.05,
        pull_hours_per_log=0.05,
        cold_days=cold,
        stock=stock,
        outlets=tuple(outlets),
        types=tuple(types),
        stacks=tuple(made),
        prices=replace(PRICES, certainty=0.5 if rng.random() < 0.2 else 0.0),
        promise=0.8,
    )


def hemmed_in(problem: Problem, seed: int) -> Problem:
    """Return a problem with places to fruit, hours by weekday, and stacks parted into lots.

    Places are as few as the largest lot, or somewhat more; of some stacks logs stand there today
    already. A stack of 20 logs or more becomes up to three lots that share its crops. Twice as much
    is wanted.
    """
    rng = np.random.default_rng([seed, 31])
    stacks: list[StackProblem] = []
    for stack in problem.stacks:
        count = int(rng.integers(1, 4)) if stack.logs >= 20 and not stack.fixed_nights else 1
        sizes = [stack.logs // count + (n < stack.logs % count) for n in range(count)]
        for n, logs in enumerate(sizes):
            share = logs / stack.logs
            stacks.append(
                replace(
                    stack,
                    name=stack.name if count == 1 else f"{stack.name}/{n + 1}",
                    logs=logs,
                    effective_logs=stack.effective_logs * share,
                    end_flush=stack.end_flush * share,
                    first=replace(
                        stack.first,
                        crops=_times(stack.first.crops, share),
                        none_crops=_times(stack.first.none_crops, share),
                    ),
                    fixed_standing=int(rng.integers(1, 12)) if stack.fixed_nights else 0,
                    handling=0.05 if count > 1 else stack.handling,
                )
            )
    logs = [stack.logs for stack in stacks]
    work = rng.uniform(0.7, 2.0, 7) * (rng.random(7) < 0.9) * 0.05 * max(logs)
    return replace(
        problem,
        stacks=tuple(stacks),
        places=int(max(logs) * rng.uniform(1.0, 1.6)),
        hours_a_day=tuple(work.tolist()) if rng.random() < 0.5 else problem.hours_a_day,
        outlets=tuple(replace(sale, target=2 * sale.target) for sale in problem.outlets),
    )


def _times(crops: Crops, share: float) -> Crops:
    return replace(crops, kg=crops.kg * share)


def yard_like(
    stacks: int,
    weeks: int = 26,
    members: int = 30,
    load: float = 1.0,
    seed: int = 1,
    season: bool = True,
) -> Problem:
    """Return a problem like a real yard's, made on a Monday early in May.

    Parameters
    ----------
    stacks, weeks, members : int
        Size.
    load : float
        Targets as a share of what the yard can just meet. Above 1 it can't.
    seed : int
        Seed of all random draws.
    season : bool
        Soak only from 15 April to 20 October; else all year.
    """
    rng = np.random.default_rng([seed, 23])
    today = date(2027, 5, 3)
    tail, rest = 35, 63
    temp = member_temperature(rng, today, 7 * weeks + tail + 60, members)
    open_days = [day for day in range(7 * weeks + 365) if day % 7 in (1, 4)]
    if season:
        open_days = [day for day in open_days if _in_season(today + timedelta(days=day))]
    soak_days = np.array([day for day in open_days if day < 7 * weeks], dtype=np.int64)
    next_soak_day = min(day for day in open_days if day >= 7 * weeks)

    # class name, best temperature, width, natural crop, hottest and coldest mean for a soak
    classes = (
        ("wide-range", 17.0, 8.0, 0.16, 27.0, 7.0),
        ("warm-weather", 22.0, 7.0, 0.12, 30.0, 12.0),
        ("cold-weather", 11.0, 6.0, 0.16, 18.0, 3.0),
    )
    types, fruitings = [], []
    for name, best, width, natural, hot, cold in classes:
        for band in ("thin", "medium", "thick"):
            fruiting = make_fruiting(rng, temp, best, width, natural, rest, 0.03)
            mean = np.array([np.median(temp[day + 1 : day + 11].mean(axis=0)) for day in soak_days])
            bearing = (fruiting.forced[soak_days] > 0).mean(axis=1) >= 0.5
            allowed = (mean <= hot) & (mean >= cold) & bearing
            fruitings.append(fruiting)
            types.append(make_type(f"{name}, {band} logs", fruiting, soak_days, rest, allowed))

    made = []
    chances = np.array([0.2, 0.25, 0.15, 0.1, 0.1, 0.05, 0.05, 0.05, 0.05])
    for index in range(stacks):
        kind = int(rng.choice(len(types), p=chances))
        logs = int(rng.integers(8, 41))
        effective_logs = (
            logs * float(rng.choice([0.5, 1.0, 1.0, 0.6])) * float(rng.uniform(0.85, 1.15))
        )
        since = -int(rng.integers(1, 2 * rest))
        ready, fixed = max(0, since + rest), 0
        young = index % 10 == 3  # ready in the course of the season
        if index % 20 == 7:  # soaked yesterday for two nights
            since, ready, fixed = -1, rest - 1, 1
        elif young:
            ready = int(rng.integers(14, 120))
            since = ready - rest
        first = make_first(
            fruitings[kind], soak_days, types[kind].allowed, since, ready, effective_logs
        )
        was = bool(rng.random() < 0.7)
        published = None
        if was and len(first.soak) and rng.random() < 0.9:
            published = int(soak_days[first.soak[min(int(rng.integers(6)), len(first.soak) - 1)]])
        made.append(
            StackProblem(
                name=f"{'NSEW'[index % 4]}{index // 4 + 1}",
                logs=logs,
                type_index=kind,
                effective_logs=effective_logs,
                first=first,
                end_flush=0.12 * effective_logs,
                rested_from=ready if young else since,
                published=published,
                was_published=was,
                fixed_nights=fixed,
            )
        )
    total = sum(stack.logs for stack in made)
    tank = max(60, round(total / 9 * 0.75))
    problem = Problem(
        today=today,
        weeks=weeks,
        tail_days=tail,
        years=tuple(1990 + member for member in range(members)),
        seed=seed,
        soak_days=soak_days,
        next_soak_day=next_soak_day,
        rest_days=rest,
        tank_logs=tank,
        hours_a_day=None,
        soak_hours_per_log=0.03,
        pull_hours_per_log=0.03,
        cold_days=10,
        stock=((-2, 0.01 * total),),
        outlets=(),
        types=tuple(types),
        stacks=tuple(made),
        prices=PRICES,
        promise=0.8,
    )
    return replace(problem, outlets=_yard_outlets(problem, load))


def _in_season(day: date) -> bool:
    return (4, 15) <= (day.month, day.day) <= (10, 20)


def _yard_outlets(problem: Problem, load: float) -> tuple[OutletDay, ...]:
    """Return a Wednesday and a Saturday outlet from mid-May to October."""
    effective_logs = sum(stack.effective_logs for stack in problem.stacks)
    a_week = load * JUST_MEETS * effective_logs / 9
    outlets = []
    for day in range(problem.days):
        on = problem.today + timedelta(days=day)
        if (5, 15) <= (on.month, on.day) <= (10, 30) and on.weekday() in (2, 5):
            name, share = (("Grocer", 0.35), ("Saturday stall", 0.65))[on.weekday() == 5]
            outlets.append(OutletDay(name, day, share * a_week, 1.0))
    return tuple(outlets)


JUST_MEETS = 0.115  # kg a log and nine weeks, at which a good plan falls a few percent short
