"""What a change of the model does to a yard's plan: an upgrade, or numbers of the grower's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import geometric_mean

from pydantic import ValidationError

from fruitcast import __version__
from fruitcast.diary.plan import LearnedChange, ModelChange, NumberChange, Plan, plan_changes
from fruitcast.document import Document, Number
from fruitcast.numbers import Number as InUse
from fruitcast.numbers import Numbers, default_numbers
from fruitcast.yard.model import Yard

WORTH_TELLING = 0.1
"""Share by which logs must bear more or less than in the plan before to be told of."""

MODEL = "plan model"
"""Kind of document that tells by which model the plan of a day was made."""


class Model(Document):
    """The program and the numbers that a plan was made by."""

    version: str
    numbers: dict[str, Number]
    own: tuple[str, ...]


@dataclass(frozen=True)
class Before:
    """The plan published before."""

    plan: Plan
    model: Model
    same_inputs: bool  # whether yard, weather and diary are still those that it was made from


def model_of(entries: Sequence[InUse]) -> Model:
    """Return the program as it is, with the numbers in use."""
    return Model(
        version=__version__,
        numbers={entry.key: entry.value for entry in entries},
        own=tuple(entry.key for entry in entries if entry.overridden),
    )


def kept_model(text: str | None) -> Model | None:
    """Return the model that the diary keeps, None when it keeps none that can be read."""
    try:
        return Model.model_validate_json(text) if text else None
    except ValidationError:
        return None


def model_change(before: Before, plan: Plan, model: Model) -> ModelChange | None:
    """Return what changed in the model since the plan before, None when nothing did.

    Planning again from the same inputs tells the same change again, with the new figures.

    `model` is what the new plan was made by.
    """
    if before.model == model:
        told = before.plan.model_change if before.same_inputs else None
        return told and _with_figures_of(told, plan)
    old, new = before.plan, plan
    until = min(_end(old), _end(new))
    return ModelChange(
        since=old.today,
        version_before=before.model.version,
        version_after=model.version,
        numbers=_number_changes(before.model, model),
        until=until,
        expected_kg_before=_expected_kg(old, plan.today, until),
        expected_kg_after=_expected_kg(new, plan.today, until),
        next_soaks=plan_changes(old, new, plan.today),
    )


def learned_change(before: Before, plan: Plan) -> LearnedChange | None:
    """Return how much more or less logs bear than in the plan before, None when about the same."""
    if before.same_inputs:
        return before.plan.learned_change
    old = {(each.strain_class, each.tree): each for each in before.plan.learned}
    new = {(each.strain_class, each.tree): each for each in plan.learned}
    # With nothing learned before, every kind bore what the table says.
    both = [
        (old[kind].yield_factor if kind in old else 1.0, each.yield_factor)
        for kind, each in new.items()
        if kind in old or not old
    ]
    if not both:
        return None
    factor = geometric_mean(after / was for was, after in both)
    if abs(factor - 1.0) < WORTH_TELLING:
        return None
    flushes = sum(each.flushes for each in new.values()) - sum(was.flushes for was in old.values())
    return LearnedChange(since=before.plan.today, factor=factor, flushes=max(flushes, 0))


def _with_figures_of(told: ModelChange, plan: Plan) -> ModelChange:
    """Return a change with what it comes to in a plan made again."""
    now = plan.next_soaks(plan.today)
    soaks = (
        soak.model_copy(update={"after": now.get(soak.stack)})
        for soak in told.next_soaks
        if now.get(soak.stack) != soak.before
    )
    figures = {
        "expected_kg_after": _expected_kg(plan, plan.today, told.until),
        "next_soaks": tuple(soaks),
    }
    return told.model_copy(update=figures)


def _number_changes(before: Model, after: Model) -> tuple[NumberChange, ...]:
    """Return the numbers that differ, the grower's own first."""
    own = set(before.own) | set(after.own)
    found = [
        NumberChange(
            key=key, before=before.numbers.get(key), after=after.numbers.get(key), own=key in own
        )
        for key in {**before.numbers, **after.numbers}
        if before.numbers.get(key) != after.numbers.get(key)
    ]
    return tuple(sorted(found, key=lambda number: (not number.own, number.key)))


def _end(plan: Plan) -> date:
    return plan.today + timedelta(weeks=plan.weeks)


def _expected_kg(plan: Plan, first: date, until: date) -> float:
    return float(sum(soak.expected_kg for soak in plan.soaks if first <= soak.soak_on < until))


def numbers_of(yard: Yard) -> Numbers:
    """Return the model's numbers with the yard's overrides."""
    return default_numbers().with_overrides(yard.numbers)
