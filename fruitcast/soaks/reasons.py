"""Why a stack is soaked or left alone, and why a plan differs from the one before.

A reason is given only when it decides. Taking the named cause away (the rest, the full
tank, the outlet day that would go short) changes what is planned.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.diary.plan import Change, ChangeKind, Covered, GoesBy, NotSoaked
from fruitcast.forecast.stacks import Hold, StackOutlook
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import place_of, soak_outcome
from fruitcast.soaks.problem import NO_LIMIT, Occupancy, Plan, Problem, SoakPath
from fruitcast.soaks.search import MENDING, REAL_GAIN, Search
from fruitcast.soaks.search_tables import Beside, SearchTables
from fruitcast.soaks.supply import allocate
from fruitcast.units import format_temperature, format_weight
from fruitcast.words import LIKELY, count_words, day_words, percent_words

MOSTLY_BY_ITSELF = 0.5
"""A stack is left to itself when unsoaked it gives this share of what a soak would bring."""

WORTH_NAMING = 0.05
"""An outlet day is named when a soak brings it at least this share of its target."""


class Explainer:
    """Explains one plan by trying it without each of its parts."""

    def __init__(self, built: BuiltProblem, plan: Plan, tables: SearchTables) -> None:
        self.built, self.plan, self.tables = built, plan, tables
        self.supply = tables.total(plan)
        self.ledger = allocate(self.supply, tables.checks)
        self._occupancy = Occupancy(built.problem)
        for stack, path in enumerate(plan):
            self._occupancy.add(stack, path)
        roomy = replace(built.problem, tank_logs=NO_LIMIT, hours_a_day=None, places=None)
        self.roomy = tables.with_limits(roomy)

    def cost_with(self, stack: int, path: SoakPath) -> float:
        """Return what the plan costs more with one stack on another path. [kg]"""
        beside = self.beside(stack)
        return beside.cost(path) - beside.cost(self.plan[stack])

    def beside(self, stack: int) -> Beside:
        """Return the plan with one stack left open."""
        return Beside(self.tables, self.plan, self.supply, stack)

    def fits_beside(self, stack: int) -> BoolArray:
        """Return on which soak days a stack fits into tank, hours and places beside all others."""
        return np.asarray(np.all(list(self._room(stack).values()), axis=0))

    def no_room(self, stack: int, soak: int) -> tuple[str, ...]:
        """Return which of 'tank', 'hours' and 'places' keep a stack out on a soak day."""
        return tuple(name for name, has in self._room(stack).items() if not has[soak])

    def _room(self, stack: int) -> dict[str, BoolArray]:
        self._occupancy.add(stack, self.plan[stack], sign=-1)
        room = self._occupancy.room(stack)
        self._occupancy.add(stack, self.plan[stack])
        return room

    def covers(self, stack: int, step: int) -> list[Covered]:
        """Return what sales would be short without one soak, mean over members, largest first."""
        path = self.plan[stack]
        sold = self.beside(stack).ledger(self._without(stack, path, step)).delivered
        short = (self.ledger.delivered - sold).mean(axis=1)
        sales = self.built.problem.outlets
        found = [
            covered(self.built.problem, n, float(short[n]))
            for n in np.flatnonzero(short > 0).tolist()
            if short[n] >= WORTH_NAMING * sales[n].target
        ]
        return sorted(found, key=lambda cover: -cover.kg)

    def _without(self, stack: int, path: SoakPath, step: int) -> SoakPath:
        """Return the path without one soak, and without later ones if the gap allows no arc."""
        rest = path[:step] + path[step + 1 :]
        return rest if self.tables.allows(stack, rest) else path[:step]

    def soak_reasons(self, stack: int, step: int, covers: list[Covered]) -> list[str]:
        """Return why a stack is soaked on that day, in words."""
        outlook = self.built.outlook.stacks[stack]
        path, problem = self.plan[stack], self.built.problem
        day = problem.soaked_on(path[step])
        likely = soak_outcome(self.built, stack, path, step).first_pick(0.5)
        return [
            *(
                ["you fixed this day"]
                if step == 0 and problem.stacks[stack].must is not None
                else []
            ),
            self._readiness(outlook, path, step, day),
            self._weather(stack, step, outlook, likely),
            self._purpose(covers, problem.on(likely - self.built.outlook.futures.lookback)),
        ]

    def _readiness(self, outlook: StackOutlook, path: SoakPath, step: int, day: date) -> str:
        problem = self.built.problem
        last = outlook.state.last_soak
        if step > 0:
            since = problem.soaked_on(path[step - 1])
            on = day_words(since, problem.today)
            return f"rested {(day - since).days} days since its soak on {on}"
        if last is not None:
            on = day_words(last.on, problem.today)
            return f"rested {(day - last.on).days} days since its soak on {on}"
        if outlook.last_first_pick is not None:
            flush = outlook.last_first_pick
            on = day_words(flush, problem.today)
            return f"rested {(day - flush).days} days since its flush of {on}"
        ready = outlook.spawn.ready_on
        listed = outlook.stack.bearing_since
        if listed is not None and listed == ready:
            # A year alone is kept as its first day.
            alone = (listed.month, listed.day) == (1, 1)
            on = f"{listed.year}" if alone else day_words(listed, problem.today)
            return f"bearing since {on} by stacks.csv, no soak in the diary"
        if ready is not None:
            how = "seen" if outlook.spawn.seen else "reckoned"
            on = day_words(ready, problem.today)
            return f"spawn run done since {on} ({how}), no soak in the diary"
        return "spawn run done by then, no soak in the diary"

    def _weather(self, stack: int, step: int, outlook: StackOutlook, likely: int) -> str:
        futures = self.built.outlook.futures
        work, _ = place_of(self.built, stack)
        at = self.plan[stack][step]
        pull = int(work.fruiting.forced.pull_row[at])
        days_ahead = int(work.fruiting.weather.numbers.forced.season_days)
        ahead = futures.tmean[pull : pull + days_ahead]
        warm = float(np.median(ahead.mean(axis=0)))
        units = self.built.outlook.yard.units
        days = likely - pull
        return (
            f"about {format_temperature(warm, units)} expected, good for "
            f"{outlook.stack.strain_class} logs: first pick about {days} days after the pull"
        )

    def _purpose(self, covers: list[Covered], picked: date) -> str:
        """Say what it is for: the first sale from the day of the likely first pick on."""
        if not covers:
            return "better soaked now than rested longer"
        likely = [cover for cover in covers if cover.on >= picked]
        first = min(likely or covers, key=lambda cover: cover.on)
        if not self.built.outlook.yard.sells:
            return f"little else comes to the table in the week before {day_words(first.on)}"
        others = len(covers) - 1
        more = f" and {count_words(others, 'later sale')}" if others else ""
        return f"feeds {first.outlet} on {day_words(first.on)}{more}"

    def left_alone(self, stack: int) -> NotSoaked:
        """Return why a stack is not soaked in the whole horizon.

        The cause is one of `forecast.stacks.CAUSES`, or 'season', 'class', 'bears', 'tank full',
        'natural flush' or 'not worth it'.
        """
        cause, reason = self._left_alone(stack)
        return NotSoaked(stack=self.built.problem.stacks[stack].name, cause=cause, reason=reason)

    def _left_alone(self, stack: int) -> tuple[str, str]:
        problem, outlook = self.built.problem, self.built.outlook.stacks[stack]
        arcs = problem.types[problem.stacks[stack].type_index]
        lasting = [hold for hold in outlook.holds if hold.until is None]
        if lasting:
            return lasting[0].cause, hold_words(lasting[0], outlook)
        if not len(problem.soak_days):
            return "season", "no soak day of the yard's season falls in the plan's weeks"
        last_day = problem.soaked_on(-1)
        over = [h for h in outlook.holds if h.until is not None and h.until > last_day]
        if over:
            latest = max(over, key=lambda hold: hold.until or date.min)
            return latest.cause, hold_words(latest, outlook)
        if not len(problem.stacks[stack].first.soak):
            return self._no_first_soak(stack, bool(arcs.allowed.any()))
        return self._not_chosen(stack)

    def _no_first_soak(self, stack: int, class_allows: bool) -> tuple[str, str]:
        outlook = self.built.outlook.stacks[stack]
        if not class_allows:
            words = (
                f"{outlook.stack.strain_class} logs answer a soak poorly in summer and warm weather"
            )
            return "class", words
        if outlook.effective_logs <= 0:
            return "bears", "its logs are not expected to bear in these weeks"
        return "bears", self._brings_too_little(stack)

    def _brings_too_little(self, stack: int) -> str:
        """Say whether it is the weather or the logs by which no soak is worth its work."""
        work, place = place_of(self.built, stack)
        forced, numbers = work.fruiting.forced, self.built.outlook.numbers.schedule
        comes = (forced.kg > 0)[forced.allowed]
        if not (comes.mean(axis=1) >= numbers.bears_in).any():
            days = int(self.built.outlook.numbers.forced.season_days)
            pulls, tmean = forced.pull_row[forced.allowed], self.built.outlook.futures.tmean
            after = [float(np.median(tmean[pull : pull + days].mean(axis=0))) for pull in pulls]
            units = self.built.outlook.yard.units
            low, high = (format_temperature(t, units) for t in (min(after), max(after)))
            expected = f"at about {high}" if low == high else f"between {low} and {high}"
            return f"{expected} after the soak most likely nothing comes"
        left = (work.first_factor[place] > 0)[forced.allowed]
        if not ((comes & left).mean(axis=1) >= numbers.bears_in).any():
            return "in most years it is not yet grown through, or flushes by itself instead"
        return "a soak would bring too little a log to be worth its work"

    def _not_chosen(self, stack: int) -> tuple[str, str]:
        best = Search(self.roomy.problem, MENDING, tables=self.roomy).run(self.plan, [stack])[stack]
        problem = self.built.problem
        fits = self.fits_beside(stack)
        if best and self.cost_with(stack, best) < -REAL_GAIN and not all(fits[list(best)]):
            on = problem.soaked_on(next(k for k in best if not fits[k]))
            full = (
                "tank, day's work or places to fruit are"
                if problem.places
                else ("tank or the day's work is")
            )
            return "tank full", f"the {full} full with better soaks, first on {day_words(on)}"
        by_itself = self._by_itself(stack)
        if np.mean(by_itself > 0) >= LIKELY and by_itself.mean() >= MOSTLY_BY_ITSELF * self._soaked(
            stack
        ):
            return (
                "natural flush",
                "a flush that comes by itself is likely; a soak would add too little",
            )
        if not self.built.outlook.yard.sells:
            return (
                "not worth it",
                "the other stacks feed the table in these weeks; rested longer it bears better",
            )
        return (
            "not worth it",
            "beside the other stacks a soak would sell too little to be worth its work; rested "
            "longer it bears better",
        )

    def _by_itself(self, stack: int) -> FloatArray:
        """Return what a stack gives in each member if it is never soaked: (member,). [kg]"""
        none = self.built.problem.stacks[stack].first.none_crops
        return np.asarray(
            np.bincount(none.member, none.kg, minlength=self.built.problem.members), dtype=float
        )

    def _soaked(self, stack: int) -> float:
        """Return the most that a stack is expected to give with one soak. [kg]"""
        first = self.built.problem.stacks[stack].first
        by_soak = np.bincount(first.crops.row, first.crops.kg, minlength=len(first.soak))
        return float(by_soak.max()) / self.built.problem.members


def covered(problem: Problem, sale: int, kg: float) -> Covered:
    """Return a sale of the problem with a weight, as an entry of the plan."""
    outlet = problem.outlets[sale]
    return Covered(outlet=outlet.outlet, on=problem.on(outlet.day), kg=kg)


def hold_words(hold: Hold, outlook: StackOutlook) -> str:
    """Return a hold in words, with the day on which it ends."""
    state, until = outlook.state, hold.until
    by = f"until {day_words(until)} {until.year}" if until else "beyond the plan's weeks"
    soaked = day_words(state.last_soak.on) if state.last_soak else "an earlier day"
    pins = day_words(state.pins_on) if state.pins_on else "an earlier day"
    match hold.cause:
        case "no logs":
            return "no living logs are left"
        case "dead":
            return "so dry that the spawn is presumed dead: inspect the logs before any soak"
        case "tank":
            return f"in the tank since {soaked}; then it rests {by}"
        case "pins":
            longer = any(until and other.until and other.until > until for other in outlook.holds)
            rests = "" if longer else f", then rests {by}"
            return f"pins were seen on {pins}: it is about to fruit{rests}"
        case "spawn run":
            share = percent_words(outlook.spawn.progress)
            if until:
                return f"spawn run {share}, most likely done by {day_words(until)} {until.year}"
            return f"spawn run {share}, most likely not done within the plan's weeks"
        case "first year":
            return f"no soak in the first year from inoculation, {by}"
        case "rest":
            return f"soaked on {soaked}, rests {by}"
        case "natural rest":
            return f"flushed by itself, rests {by}"
        case "kept back":
            return f"you keep it back {by}"
    raise ValueError(f"unknown cause {hold.cause!r}")


# What a new plan changes in the one published before, and why.

Published = dict[str, tuple[date, ...]]
"""The coming soaks of each stack in the plan published before."""


def published_soaks(dates: GoesBy | None, today: date) -> Published:
    """Return the published soaks that are not past, by stack."""
    found: dict[str, list[date]] = {}
    for soak in dates.soaks if dates else ():
        if soak.soak_on >= today:
            found.setdefault(soak.stack, []).append(soak.soak_on)
    return {stack: tuple(sorted(days)) for stack, days in found.items()}


def as_plan(built: BuiltProblem, published: Published) -> Plan:
    """Return the published soaks as paths, each cut before its first soak not possible now."""
    problem = built.problem
    index = {int(day): k for k, day in enumerate(problem.soak_days)}
    paths = []
    for stack in problem.stacks:
        arcs = problem.types[stack.type_index]
        path: SoakPath = ()
        for on in published.get(stack.name, ()):
            k = index.get((on - problem.today).days)
            if k is None:
                break
            possible = k in stack.first.soak if not path else (path[-1], k) in arcs.pairs
            if not possible:
                break
            path = (*path, k)
        paths.append(path)
    return tuple(paths)


def changes(explainer: Explainer, published: Published) -> list[Change]:
    """Return what became of each stack's next published soak; empty when all stand."""
    built, problem = explainer.built, explainer.built.problem
    found = []
    for index, stack in enumerate(problem.stacks):
        if not stack.was_published:
            continue
        path = explainer.plan[index]
        after = problem.soaked_on(path[0]) if path else None
        before = min(published.get(stack.name, ()), default=None)
        if before == after:
            continue
        kind: ChangeKind = "added" if before is None else "dropped" if after is None else "moved"
        gain, reason = _why(explainer, built, index, published)
        found.append(
            Change(
                stack=stack.name, kind=kind, before=before, after=after, gain_kg=gain, reason=reason
            )
        )
    return found


def _why(
    explainer: Explainer, built: BuiltProblem, index: int, published: Published
) -> tuple[float | None, str]:
    problem, units = built.problem, built.outlook.yard.units
    name = problem.stacks[index].name
    if problem.stacks[index].must is not None:
        return None, "you fixed the day"
    kept = as_plan(built, published)[index]
    wanted = published.get(name, ())
    if wanted and not kept:
        return None, _not_possible(built, index, wanted[0])
    gain = explainer.cost_with(index, kept)
    fits = explainer.fits_beside(index)
    if kept and gain <= 0 and not all(fits[list(kept)]):
        return gain, "the tank or the day's work is needed for better soaks on the published day"
    # Moving a published day has its price, which the gain is more than: told is what it brings.
    amount = format_weight(max(gain + problem.prices.change, 0.0), units)
    return gain, f"with what is known now this is worth {amount} more over the season"


def _not_possible(built: BuiltProblem, index: int, on: date) -> str:
    outlook, problem = built.outlook.stacks[index], built.problem
    over = [hold for hold in outlook.holds if hold.until is None or hold.until > on]
    if over:
        return hold_words(over[0], outlook)
    day = (on - problem.today).days
    if day not in problem.soak_days:
        return "the published day is no longer a soak day"
    return "a soak on the published day would bring nothing in most weather years now"
