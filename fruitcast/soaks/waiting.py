"""Why a stack isn't soaked this week, and what it would bring and take if it were.

A reason is a smallest set of causes: with all of them gone the soak would be possible, or better
than the plan; with any one of them left it would not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from fruitcast.arrays import FloatArray
from fruitcast.forecast.stacks import Hold, StackOutlook
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import place_of, soak_outcome
from fruitcast.soaks.problem import SoakPath
from fruitcast.soaks.reasons import Explainer, hold_words
from fruitcast.soaks.search import MENDING, Search
from fruitcast.soaks.search_tables import NEVER, Beside, SearchTables
from fruitcast.soaks.soak_days import is_away
from fruitcast.units import SHOWN_AS_NONE_KG, format_temperature, format_weight
from fruitcast.words import day_words
from fruitcast.yard.model import Yard, in_season

WEEK_DAYS = 7

NOT_ALLOWED = -1
"""Row of an arc that there is none of, see `SearchTables.rows`."""

SAYS_NOTHING_OF_THE_LOGS = ("kept back", "first year")
"""Holds beside which a soak may still bring too little; the others are why it would."""


@dataclass(frozen=True)
class OneSoak:
    """A soak that the plan doesn't have, all other stacks as planned."""

    path: SoakPath  # the stack's soaks, this one first
    more: FloatArray  # (sale,): what each sale would get more, mean over members [kg]
    # What the plan would be better by, with work and rest reckoned; worse below 0 [kg]
    gain_kg: float


@dataclass(frozen=True)
class Wait:
    """Why a stack isn't soaked this week."""

    # Causes of `forecast.stacks.CAUSES`, or 'soak day', 'fixed', 'away', 'class', 'bears', 'natural
    # flush', 'weak', 'tank full', 'costs'
    causes: tuple[str, ...]
    words: str  # the causes as one would say them
    # The best soak of the week; None where a rule or the logs themselves forbid any
    tried: OneSoak | None = None


_FULL = {"tank": "room in the tank", "hours": "time to work", "places": "room to fruit"}


def wait_of(explainer: Explainer, stack: int) -> Wait | None:
    """Return why a stack of the plan isn't soaked within a week; None if it is."""
    problem = explainer.built.problem
    week = np.flatnonzero(problem.soak_days < WEEK_DAYS).tolist()
    path = explainer.plan[stack]
    if path and path[0] in week:
        return None
    outlook = explainer.built.outlook.stacks[stack]
    against = [_forbids(explainer.built, stack, soak) for soak in week]
    if not week:
        lasting = [h for h in outlook.holds if h.until is None or problem.on(6) < h.until]
        none = _no_day_words(explainer.built.outlook.yard, problem.today)
        return _forbidden([("soak day", none), *_held(lasting, outlook)])
    least = min(against, key=len)
    if least:
        return _forbidden(least)
    fits = explainer.fits_beside(stack)
    open_days = [soak for soak, rules in zip(week, against, strict=True) if not rules]
    roomy = [soak for soak in open_days if fits[soak]]
    beside = explainer.beside(stack)
    tried = [one_soak(explainer, beside, soak) for soak in roomy or open_days]
    best = max(tried, key=lambda one: one.gain_kg)
    if not roomy:
        on = day_words(problem.soaked_on(best.path[0]))
        full = " and ".join(_FULL[name] for name in explainer.no_room(stack, best.path[0]))
        return Wait(("tank full",), f"better soaks leave too little {full} on {on}", best)
    return Wait(("costs",), _cost_words(explainer.built, stack, best, explainer.plan[stack]), best)


def _no_day_words(yard: Yard, today: date) -> str:
    """Return why a week has no soak day: out of the season of soaking, days away or both."""
    first, last = yard.soaking.first, yard.soaking.last
    week = [today + timedelta(days=day) for day in range(WEEK_DAYS)]
    days = [day for day in week if day.weekday() in yard.soaking.days]
    out = [day for day in days if not in_season(day, first, last)]
    if not out:
        return "you are away on every soak day of this week"
    says = " and ".join(
        f'{key} = "{month:02}-{day:02}"'
        for key, bound in (("first", first), ("last", last))
        if bound is not None
        for month, day in (bound,)
    )
    away = "" if len(out) == len(days) else ", and you are away on the others"
    which = "the week's" if not away else "some of the week's"
    return f"{which} soak days lie outside your soaking season ({says} in yard.toml){away}"


def one_soak(explainer: Explainer, beside: Beside, soak: int) -> OneSoak:
    """Return what a stack's next soak would bring and take on a day that its arcs allow."""
    stack = beside.stack
    room = explainer.tables if explainer.fits_beside(stack)[soak] else explainer.roomy
    planned = explainer.plan[stack]
    path = path_with(room, beside, soak, planned)
    more = (beside.ledger(path).delivered - explainer.ledger.delivered).mean(axis=1)
    return OneSoak(path, more, beside.cost(planned) - beside.cost(path))


def path_with(tables: SearchTables, beside: Beside, soak: int, planned: SoakPath) -> SoakPath:
    """Return the best way for a stack to go on from a soak, all other stacks as planned.

    The limits are those of the tables' problem; `planned` are the soaks that were planned for it.
    """
    stack, plan = beside.stack, beside.plan
    start_row, start_cost = tables.arrays.start_row.copy(), tables.arrays.start_cost.copy()
    others = np.arange(start_row.shape[1] - 1) != soak
    start_row[stack, :-1][others] = NOT_ALLOWED
    start_cost[stack, -1] = NEVER
    arrays = tables.arrays._replace(start_row=start_row, start_cost=start_cost)
    forced = replace(tables, arrays=arrays)
    path = min(_ways_on(tables, stack, soak, planned), key=beside.cost)
    start = (*plan[:stack], path, *plan[stack + 1 :])
    return Search(tables.problem, MENDING, tables=forced).run(start, [stack])[stack]


def _ways_on(tables: SearchTables, stack: int, soak: int, planned: SoakPath) -> Iterator[SoakPath]:
    """Yield ways to go on from a soak: in place of the next one, before it, or all put off."""
    later = range(soak + 1, len(tables.problem.soak_days))
    second = next((k for k in later if tables.allows(stack, (soak, k))), None)
    goes_on = [planned[1:], planned]
    if second is not None:
        goes_on.append((second, *planned[1:]))
    for rest in dict.fromkeys(goes_on):
        path: SoakPath = (soak,)
        for k in rest:
            if k > path[-1] and tables.allows(stack, (*path, k)):
                path = (*path, k)
        yield path


def _forbids(built: BuiltProblem, stack: int, soak: int) -> list[tuple[str, str]]:
    """Return all that forbids one soak whatever the others do, each with its words."""
    problem, outlook = built.problem, built.outlook.stacks[stack]
    if soak in problem.stacks[stack].first.soak:
        return []
    on = problem.soaked_on(soak)
    held = [hold for hold in outlook.holds if hold.until is None or hold.until > on]
    found = _held(held, outlook)
    must = problem.stacks[stack].must
    if must is not None:
        fixed = problem.soaked_on(must)
        found.append(("fixed", f"you fixed its next soak for {day_words(fixed, problem.today)}"))
    forced = place_of(built, stack)[0].fruiting.forced
    pulled = built.outlook.futures.date(int(forced.pull_row[soak]))
    if is_away(built.outlook.yard, pulled):
        found.append(("away", f"you are away on {day_words(pulled)}, when it would come out"))
    # A hold that is over by then explains nothing any more.
    rested = all(hold.cause in SAYS_NOTHING_OF_THE_LOGS for hold in held)
    if not forced.allowed[soak]:
        klass = outlook.stack.strain_class
        found.append(("class", f"{klass} logs answer a soak poorly in the warmth expected then"))
    elif (forced.kg[soak] > 0).mean() < built.outlook.numbers.schedule.bears_in:
        found.append(("bears", f"{_warmth(built, stack, soak)} most likely nothing would come"))
    elif rested:
        found += _too_little(built, stack, soak, alone=not found)
    return found


def _too_little(
    built: BuiltProblem, stack: int, soak: int, *, alone: bool
) -> list[tuple[str, str]]:
    """Return whether the soak comes too near a flush by itself, or brings too little."""
    numbers, outlook = built.outlook.numbers.schedule, built.outlook.stacks[stack]
    work, place = place_of(built, stack)
    forced, left = work.fruiting.forced, work.first_factor[place, soak]
    if ((forced.kg[soak] > 0) & (left > 0)).mean() < numbers.bears_in:
        return [("natural flush", "soaked now, most likely it would fruit by itself first")]
    log = (
        float((forced.kg[soak] * left).mean()) * outlook.effective_logs / max(outlook.state.logs, 1)
    )
    if alone or log < numbers.weak_soak:
        little = format_weight(log, built.outlook.yard.units)
        return [("weak", f"a soak would bring about {little} a log, too little for its work")]
    return []


def _warmth(built: BuiltProblem, stack: int, soak: int) -> str:
    work, _ = place_of(built, stack)
    pull = int(work.fruiting.forced.pull_row[soak])
    days = int(built.outlook.numbers.forced.season_days)
    ahead = built.outlook.futures.tmean[pull : pull + days].mean(axis=0)
    return f"at about {format_temperature(float(np.median(ahead)), built.outlook.yard.units)}"


def _held(holds: Sequence[Hold], outlook: StackOutlook) -> list[tuple[str, str]]:
    return [(hold.cause, hold_words(hold, outlook)) for hold in holds]


def _forbidden(rules: Sequence[tuple[str, str]]) -> Wait:
    return Wait(tuple(cause for cause, _ in rules), "; ".join(words for _, words in rules))


def _cost_words(built: BuiltProblem, stack: int, best: OneSoak, planned: SoakPath) -> str:
    problem, yard = built.problem, built.outlook.yard
    on = day_words(problem.soaked_on(best.path[0]))
    kg = float(soak_outcome(built, stack, best.path, 0).kg.mean())
    brings = f"soaked on {on} it would bring about {format_weight(kg, yard.units)}"
    sold = float(best.more.sum())
    if sold <= -SHOWN_AS_NONE_KG:
        less = format_weight(-sold, yard.units)
        if not yard.sells:
            return f"{brings}, and {less} less would come to the table over the season"
        worst = problem.outlets[int(best.more.argmin())]
        mostly = f"most of it {worst.outlet} on {day_words(problem.on(worst.day))}"
        return f"{brings}, and {less} less would be sold over the season, {mostly}"
    use = "sold" if yard.sells else "wanted"
    if sold >= SHOWN_AS_NONE_KG:
        more = format_weight(sold, yard.units)
        return (
            f"{brings}, but only {more} more {use} over the season: less than the work, and what "
            "the logs bear better for resting on"
        )
    return f"{brings}, and nothing more would be {use}{_later_words(built, stack, planned, kg)}"


def _later_words(built: BuiltProblem, stack: int, planned: SoakPath, now_kg: float) -> str:
    """Return what a stack gives later in place of a soak now, where that is more."""
    if not planned:
        return ": rested longer it bears better"
    later = float(soak_outcome(built, stack, planned, 0).kg.mean())
    if later < now_kg + SHOWN_AS_NONE_KG:
        return ""
    on = day_words(built.problem.soaked_on(planned[0]))
    return f": rested until {on} it bears about {format_weight(later, built.outlook.yard.units)}"
