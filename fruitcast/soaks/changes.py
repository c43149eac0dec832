"""What a new plan changes in the one published before, and why."""

from __future__ import annotations

from datetime import date, timedelta

from fruitcast.diary.plan import Change, ChangeKind, GoesBy
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.problem import Path, Plan
from fruitcast.soaks.reasons import Explainer, hold_words
from fruitcast.units import format_weight

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
        pairs = set(zip(arcs.start.tolist(), arcs.stop.tolist(), strict=True))
        path: Path = ()
        for on in published.get(stack.name, ()):
            k = index.get((on - problem.today).days)
            if k is None:
                break
            possible = k in stack.first.soak if not path else (path[-1], k) in pairs
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
        after = problem.today + timedelta(days=int(problem.soak_days[path[0]])) if path else None
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
