"""Plan and background kept in the diary: read by their classes, a damaged one counts for none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import ValidationError

from fruitcast.diary.plan import Plan
from fruitcast.errors import InputError

if TYPE_CHECKING:
    from fruitcast.diary.standing import Background


class DamagedPlanError(InputError):
    """What the diary keeps as the published plan is not one."""


def kept_plan(text: str) -> Plan:
    """Return the plan that a text holds.

    Raises
    ------
    DamagedPlanError
        If it is not one, with the first thing that is not as it should be.
    """
    try:
        return Plan.model_validate_json(text)
    except ValidationError as error:
        raise DamagedPlanError(
            f"The published plan kept in the diary cannot be read ({_first_fault(error)}). "
            "'fruitcast plan' publishes a new one."
        ) from None


def kept_background(text: str) -> Background:
    """Return what the page shows beside the plan, nothing when the text holds no such thing.

    It is worked out anew from what else is there.
    """
    from fruitcast.diary.standing import Background

    try:
        return Background.model_validate_json(text)
    except ValidationError:
        return Background()


def _first_fault(error: ValidationError) -> str:
    """Return where a text is not as it should be and how; entries count from 1."""
    fault = error.errors(include_url=False, include_context=False, include_input=False)[0]
    # A number may be whole or not, which the place tells by a last part of its own.
    way = [part for part in fault["loc"] if not str(part).startswith("constrained-")]
    place = " ".join(str(part + 1 if isinstance(part, int) else part) for part in way)
    if len(way) < len(fault["loc"]):
        return f"{place} is not a number, or too large or small"
    if fault["type"] == "missing":
        return f"{place} is missing"
    return f"{place or 'it'}: {fault['msg'][:1].lower()}{fault['msg'][1:]}"[:200]
