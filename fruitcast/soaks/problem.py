"""The scheduling problem as data, the limits that its soaks share, and all of it as JSON.

Days are whole numbers counted from today (day 0). Weights are kilograms of fresh
mushrooms. A problem holds everything the search, the bound and the judge need; none of
them looks at weather or biology.

The model
---------
For every stack choose soak days among `soak_days`. A choice is a path: start -> soak ->
soak -> ... -> end. Between two soaks lies an arc. Stacks of one type share what happens on
their interior arcs, per effective log; the arcs from today's state to the first soak are
each stack's own (`FirstArcs`).

An arc (i, j) is worth, for each member, the natural flushes triggered after soak i and
before soak j, and the forced crop of soak j times `factor[i, j]`. The arc from the last
soak to the end is worth the natural flushes that follow it.

A soak on day s with `nights` n holds its logs in the tank on the days s .. s+n-1; they are
pulled in the morning of day s+n, and stand where they fruit on `standing` days from then on. Supply
picked on day p can be sold on the days p+1 .. p+cold_days; an outlet day takes the oldest first; on
one day the outlet of larger weight comes first. What is unsold after its last day p+cold_days has
expired; it counts when that last day lies before day `days`.

objective [kg] = mean over members of (sum of weight x shortfall + expired_price x expired)
    + soak_price x logs soaked + handling + change + certainty term - end value

Lots of one stack that go in on one day are one visit. It takes its price, less the share of the
stack's lots that go in: all of them together take no more than the stack whole.

The end value of a stack is end_flush / 2 x min(1, (next_soak_day - last soak day) /
rest_days), never below 0; with no soak planned, `rested_from` stands for the last soak day.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from datetime import date, timedelta
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.yard.model import stack_of

Hours = float | tuple[float, ...]
"""Hours of work a day: the same on each, or seven of them, Monday's first. [h/day]"""


@dataclass(frozen=True)
class OutletDay:
    """One sale: an outlet on one day."""

    outlet: str  # name
    day: int  # days from today
    target: float  # wanted [kg]
    weight: float  # price of a kilogram short [unitless]


@dataclass(frozen=True)
class Crops:
    """Crops in sparse form: one entry for each weight picked on one day in one member."""

    row: IntArray  # (entry,): which crop (an arc, a soak or a start) the entry belongs to
    member: IntArray  # (entry,): member
    day: IntArray  # (entry,): day of the pick, days from today
    kg: FloatArray  # (entry,): saleable weight [kg per effective log]


def rising(row: npt.NDArray) -> IntArray:
    """Return an order in which rows rise; those that fit into 16 bits are sorted far quicker."""
    small = row.astype(np.uint16) if row.max(initial=0) < 2**16 else row
    return np.argsort(small, kind="stable")


@dataclass(frozen=True)
class TypeArcs:
    """What the stacks of one type share: interior and closing arcs, per effective log."""

    name: str  # words for people
    # start, stop, (arc,): index into `Problem.soak_days` of the soak before and after. Sorted by
    # start, stop.
    start: IntArray
    stop: IntArray
    crops: Crops  # saleable crop of each interior arc; `row` is the arc
    end_crops: Crops  # natural flushes after a last soak; `row` indexes `soak_days`
    nights: IntArray  # (soak day,): days the logs stay in the tank when soaked on that day [day]
    # (soak day,): days, from that of the pull, on which they then stand where they fruit [day]
    standing: IntArray
    hours: FloatArray  # (soak day,): hours in water, for people [h]
    allowed: BoolArray  # (soak day,): whether class and season allow a soak on that day at all

    @cached_property
    def pairs(self) -> dict[tuple[int, int], int]:
        """The arc between two soaks, where there is one."""
        return {
            pair: n
            for n, pair in enumerate(zip(self.start.tolist(), self.stop.tolist(), strict=True))
        }


@dataclass(frozen=True)
class FirstArcs:
    """One stack's arcs from today's state."""

    # (arc,): index into `soak_days` of the first soak of each allowed first arc, rising
    soak: IntArray
    # Saleable crop up to and with that soak, of the whole stack; `row` is the arc [kg]
    crops: Crops
    none_crops: Crops  # natural flushes when the stack is never soaked; `row` is 0 [kg]


@dataclass(frozen=True)
class StackProblem:
    """One stack to be scheduled."""

    name: str  # stack or lot
    logs: int  # living logs
    type_index: int  # index into `Problem.types`
    # What the type's crops are multiplied by: logs times the stack's own yield factors
    effective_logs: float
    first: FirstArcs  # its arcs from today's state
    end_flush: float  # expected weight of one forced flush past the horizon, for the end value [kg]
    # Day from which the end value counts rest when no soak is planned: the day of the last recorded
    # soak (negative), or the day the stack becomes ready. Beyond the horizon: no end value unless
    # it is soaked. [day]
    rested_from: int
    published: int | None  # day of its next soak in the plan last published, None when none was
    was_published: bool  # whether a plan that covers this stack was published before
    # Days from today on which its logs are still in the tank from a soak already begun [day]
    fixed_nights: int = 0
    # Days on which they stand where they fruit, thereafter or from today [day]
    fixed_standing: int = 0
    fixed_logs: int | None = None  # so many of them, where only a part was soaked; None is all
    # Price of one more visit to the stack, beyond that of its logs: of an accepted lot; nought for
    # other stacks. The same for all lots of one stack. [kg/visit]
    handling: float = 0.0
    # Index into `Problem.soak_days` of the soak that its path must begin with; it is its only first
    # arc then
    must: int | None = None

    @property
    def begun_logs(self) -> int:
        """Logs of the soak already begun, in the tank or where they fruit."""
        return self.logs if self.fixed_logs is None else self.fixed_logs


@dataclass(frozen=True)
class Prices:
    """Prices of the objective, each a judgement. [kg per unit]"""

    expired: float
    soak: float
    change: float
    certainty: float


@dataclass(frozen=True, kw_only=True)
class Problem:
    """A whole scheduling problem."""

    today: date  # day 0
    weeks: int  # horizon of the soaks [week]
    tail_days: int  # days past the horizon on which supply and outlet days still count [day]
    # The weather year behind each member; below nought for one put together from several
    years: tuple[int, ...]
    seed: int  # seed of all random draws
    # (soak day,): days on which a soak may start, rising, all inside the horizon
    soak_days: IntArray
    next_soak_day: int  # first permitted soak day past the horizon [day]
    rest_days: int  # least days from soak to soak [day]
    tank_logs: int  # logs in the tank on any day
    # Hours of work a day, on all days or by weekday from Monday on; None is no limit [h/day]
    hours_a_day: Hours | None
    places: int | None = None  # logs that can stand where they fruit on any day; None is no limit
    # soak_hours_per_log, pull_hours_per_log: work to soak and to pull one log [h/log]
    soak_hours_per_log: float
    pull_hours_per_log: float
    cold_days: int  # last day after the pick on which it can be sold [day]
    promise: float  # chance asked of a promise [0..1]
    prices: Prices  # prices of the objective
    # Day picked (negative or 0) and saleable weight in the cold store now [kg]
    stock: tuple[tuple[int, float], ...]
    outlets: tuple[OutletDay, ...]  # in order of day, then weight (largest first), then name
    # types, stacks: see `TypeArcs` and `StackProblem`
    types: tuple[TypeArcs, ...]
    stacks: tuple[StackProblem, ...]

    def on(self, day: int) -> date:
        """Return the date of a day."""
        return self.today + timedelta(days=int(day))

    def soaked_on(self, soak: int) -> date:
        """Return the date of a soak day, by its place among them."""
        return self.on(self.soak_days[soak])

    @property
    def members(self) -> int:
        """Number of possible futures."""
        return len(self.years)

    @property
    def past_years(self) -> int:
        """Number of past years that the members are made from, one at least."""
        return max(1, sum(year > 0 for year in self.years))

    @property
    def horizon_days(self) -> int:
        """Days in which soaks may start. [day]"""
        return 7 * self.weeks

    @property
    def days(self) -> int:
        """Days on which supply and outlets count. [day]"""
        return self.horizon_days + self.tail_days

    @cached_property
    def limit_days(self) -> int:
        """Days on which tank, hours and places are wanted, through the last pull or pick. [day]"""
        counted = self.places is not None
        stays = [kind.nights + counted * kind.standing for kind in self.types]
        fixed = [stack.fixed_nights + counted * stack.fixed_standing for stack in self.stacks]
        longest = max((int(stay.max(initial=0)) for stay in stays), default=0)
        return max(self.horizon_days + longest, max(fixed, default=0) + 1)

    @cached_property
    def hours_on(self) -> FloatArray:
        """Hours of work on each day that they are wanted, without end where nothing limits them."""
        weekday = (self.today.weekday() + np.arange(self.limit_days)) % 7
        hours = np.inf if self.hours_a_day is None else self.hours_a_day
        return np.broadcast_to(np.asarray(hours, dtype=np.float64), 7)[weekday]

    @cached_property
    def most_soaks(self) -> int:
        """No path has more soaks: the shortest arc, again and again."""
        days = self.soak_days
        gaps = [days[kind.stop] - days[kind.start] for kind in self.types]
        shortest = min((int(gap.min()) for gap in gaps if len(gap)), default=0)
        return 1 + (int(days[-1] - days[0]) // shortest if shortest else 0)

    @cached_property
    def visits(self) -> IntArray:
        """For each stack the first whose soaks on one day are the same visit: its lots'."""
        first: dict[str, int] = {}
        names = (stack_of(stack.name) for stack in self.stacks)
        return np.array([first.setdefault(name, n) for n, name in enumerate(names)], dtype=np.int64)

    @property
    def spared(self) -> FloatArray:
        """Price of each stack's own part of a visit, that all its lots would share. [kg/soak]"""
        lots = np.bincount(self.visits, minlength=len(self.stacks))
        handling = np.array([stack.handling for stack in self.stacks], dtype=np.float64)
        return handling / lots[self.visits]

    @property
    def demand(self) -> float:
        """Sum of the targets inside the horizon. [kg]"""
        return sum(o.target for o in self.outlets if o.day < self.horizon_days)


SoakPath = tuple[int, ...]
"""One stack's soaks: indices into `Problem.soak_days`, rising."""

Plan = tuple[SoakPath, ...]
"""One path for each stack, in the order of `Problem.stacks`."""


# Shared limits: tank, hours of work and places to fruit, and which soaks still fit into them.

HAIR = 1e-9
"""Hours of work may exceed the limit by so much, from adding up. [h]"""

NO_LIMIT = 10**6
"""More logs than any tank holds, or can stand anywhere."""


class Occupancy:
    """Logs in the tank, hours of work and logs that fruit, by day, of all stacks' present paths."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self.tank: IntArray = np.zeros(problem.limit_days, dtype=np.int64)
        self.hours: FloatArray = np.zeros(problem.limit_days)
        self.fruiting: IntArray = np.zeros(problem.limit_days, dtype=np.int64)
        for stack in problem.stacks:
            out = stack.fixed_nights
            if out:
                self.tank[:out] += stack.begun_logs
                self.hours[out] += stack.begun_logs * problem.pull_hours_per_log
            if problem.places is not None:
                self.fruiting[out : out + stack.fixed_standing] += stack.begun_logs

    def add(self, stack_index: int, path: SoakPath, sign: int = 1) -> None:
        """Add (or with sign -1 take away) the soaks of one stack."""
        problem, stack = self._problem, self._problem.stacks[stack_index]
        kind = problem.types[stack.type_index]
        nights = kind.nights
        for k in path:
            day, pulled = int(problem.soak_days[k]), int(problem.soak_days[k] + nights[k])
            self.tank[day:pulled] += sign * stack.logs
            self.hours[day] += sign * stack.logs * problem.soak_hours_per_log
            self.hours[pulled] += sign * stack.logs * problem.pull_hours_per_log
            if problem.places is not None:
                self.fruiting[pulled : pulled + kind.standing[k]] += sign * stack.logs

    def fits(self, stack_index: int) -> BoolArray:
        """Return for each soak day whether the stack could be soaked beside all others.

        See `room`: all of it must be there. (soak day,) bool array
        """
        fits = np.ones(len(self._problem.soak_days), dtype=bool)
        for has in self.room(stack_index).values():
            fits &= has
        return fits

    def room(self, stack_index: int) -> dict[str, BoolArray]:
        """Return for each soak day which limits leave a stack room beside all others.

        By 'tank', and where they are limited 'hours' and 'places': (soak day,) bool arrays. The
        stack's own soaks were taken away before.
        """
        problem, stack = self._problem, self._problem.stacks[stack_index]
        kind = problem.types[stack.type_index]
        days, nights = problem.soak_days, kind.nights
        found = {"tank": _most(self.tank, days, nights) + stack.logs <= problem.tank_logs}
        if problem.hours_a_day is not None:
            limit = problem.hours_on + HAIR
            soak = stack.logs * problem.soak_hours_per_log
            pull = stack.logs * problem.pull_hours_per_log
            found["hours"] = (self.hours[days] + soak <= limit[days]) & (
                self.hours[days + nights] + pull <= limit[days + nights]
            )
        if problem.places is not None:
            there = _most(self.fruiting, days + nights, kind.standing)
            found["places"] = (there + stack.logs <= problem.places) | (kind.standing == 0)
        return found


def _most(logs: IntArray, first: IntArray, stay: IntArray) -> IntArray:
    """Return the most logs on any of some days in a row, for each first day and length of stay."""
    most = np.zeros(len(first), dtype=np.int64)
    for day in range(int(stay.max(initial=0))):
        there = day < stay
        most[there] = np.maximum(most[there], logs[first[there] + day])
    return most


# A scheduling problem, and a plan for it, as one JSON text that reads back exactly.
#
# The text holds all that is needed to recompute objective and bound without this program:
# soak days, arcs and their crops for every member, targets, limits and prices, and the
# chosen arcs. Key names are those of the attributes, and `scale` for effective logs; tables of
# arcs and crops are written column by column.

FORMAT = "fruitcast problem 2"


def dump_problem(problem: Problem, plan: Plan | None = None) -> str:
    """Return the problem as JSON, with the chosen arcs when a plan is given.

    Numbers are written in full: what reads them has an equal problem to the last bit.
    """
    document = {"format": FORMAT, **_columns(problem)}
    if plan is not None:
        document["plan"] = plan
        document["chosen"] = [
            {"stack": stack.name, "soak_days": [int(problem.soak_days[soak]) for soak in path]}
            for stack, path in zip(problem.stacks, plan, strict=True)
        ]
    return json.dumps(document, separators=(",", ":"), allow_nan=False, default=_plain)


def _columns(part: Any) -> dict[str, Any]:
    names = (field.name for field in fields(part))
    return {"scale" if n == "effective_logs" else n: getattr(part, n) for n in names}


def _plain(part: Any) -> Any:
    """Return what stands in JSON for an array, a date or a part of the problem."""
    if isinstance(part, np.ndarray):
        return part.tolist()
    return part.isoformat() if isinstance(part, date) else _columns(part)
