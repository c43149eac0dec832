"""Plan and background kept in the diary: what they must hold, for whoever reads them."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Union

from fruitcast.errors import InputError

Document = dict[str, Any]

Shape = Union["Kind", "Maybe", Mapping[str, Any], list[Any]]
"""A kind of value, an object by its keys, or the one shape of every entry of a list."""


class DamagedPlanError(InputError):
    """What the diary keeps as the published plan is not one."""


@dataclass(frozen=True)
class Kind:
    """One kind of value.

    Attributes
    ----------
    name : str
        What it is, in words.
    holds : callable
        Whether a value is of this kind.
    """

    name: str
    holds: Callable[[Any], bool]


@dataclass(frozen=True)
class Maybe:
    """A shape that may as well be null."""

    shape: Shape


def _is_day(value: Any) -> bool:
    # Far from the ends of the calendar: spans are added to it.
    return isinstance(value, str) and 1950 <= date.fromisoformat(value).year < 2300


def _is_moment(value: Any) -> bool:
    return isinstance(value, str) and datetime.fromisoformat(value).tzinfo is not None


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e9


DAY = Kind("a day", _is_day)
TEXT = Kind("a text", lambda value: isinstance(value, str))
NUMBER = Kind("a number", _is_number)
COUNT = Kind("a number from 0 to a million", lambda v: _is_number(v) and 0 <= v <= 1e6)
HOURS = Kind("hours from 0 to 1,000", lambda v: _is_number(v) and 0 <= v <= 1000)


_PICK: Shape = {"p10": DAY, "p50": DAY, "p90": DAY}
_SOAK: Shape = {
    "stack": TEXT,
    "logs": COUNT,
    "soak_on": DAY,
    "hours": HOURS,
    "pull_on": DAY,
    "pick": _PICK,
    "expected_kg": NUMBER,
    "reasons": [TEXT],
    "cover?": Maybe({"from": DAY, "to": DAY, "reason?": TEXT}),
}
_REASON: Shape = {"stack": TEXT, "on": DAY, "reason?": TEXT}

PLAN: Mapping[str, Any] = {
    "today": DAY,
    "soaks": [_SOAK],
    "outlets": [
        {
            "outlet": TEXT,
            "on": DAY,
            **dict.fromkeys(("target_kg", "delivered_kg", "promise_kg", "chance"), NUMBER),
            **dict.fromkeys(("available_p10_kg", "available_p90_kg"), NUMBER),
        }
    ],
    "natural": [{"stack": TEXT, "week": DAY, "chance": NUMBER, "expected_kg": NUMBER}],
    "water": [{"stack": TEXT, "on": DAY, "moisture_wet": NUMBER, "reason": TEXT}],
    "not_soaked": [{"stack": TEXT, "reason": TEXT}],
    "objective_kg": NUMBER,
    "bound_kg": Maybe(NUMBER),
    "demand_kg": NUMBER,
    "members": COUNT,
    "promise?": NUMBER,
    "warnings": [TEXT],
    "goes_by?": Maybe({"soaks": [{"stack": TEXT, "soak_on": DAY}], "stacks": [TEXT]}),
    "jobs?": [{"job": TEXT, "stack": TEXT, "on": DAY, "until": DAY, "reason": TEXT}],
    "short?": [{"outlet": TEXT, "on": DAY, "reason": TEXT}],
    "under_way?": [_SOAK],
    "rest_ends?": [_REASON],
    "ready?": [_REASON],
    "care?": [
        {
            "stack": TEXT,
            "ordinal": COUNT,
            "from": DAY,
            "to": DAY,
            "what": TEXT,
            "reason?": TEXT,
        }
    ],
}
"""What is read of a kept plan; a key with a question mark may be missing."""

BACKGROUND: Mapping[str, Any] = {
    "inputs?": TEXT,
    "plan_made_at?": Maybe(Kind("a moment", _is_moment)),
    "stacks?": [
        {
            "stack": TEXT,
            "state": TEXT,
            "moisture_wet?": Maybe(NUMBER),
            "next_soak_on?": Maybe(DAY),
            "soakable_from?": Maybe(DAY),
            "ready?": Maybe({"middle": Maybe(DAY)}),
            "natural_chance?": Maybe(NUMBER),
            "natural_pick_on?": Maybe(DAY),
        }
    ],
    "years?": [COUNT],
    "weather?": {"origin": TEXT, "observed_to": DAY, "forecast_to": Maybe(DAY)},
}
"""What is read of what the page shows beside the plan."""


def kept_plan(text: str) -> Document:
    """Return the plan that a text holds.

    Raises
    ------
    DamagedPlanError
        If it is not one, with the first thing that is not as it should be.
    """
    document, problem = _read(text, PLAN)
    if problem:
        raise DamagedPlanError(
            f"The published plan kept in the diary cannot be read ({problem[:200]}). "
            "'fruitcast plan' publishes a new one."
        )
    return document


def kept_background(text: str) -> Document:
    """Return what the page shows beside the plan, nothing when the text holds no such thing.

    It is worked out anew from what else is there.
    """
    document, problem = _read(text, BACKGROUND)
    return {} if problem else document


def _read(text: str, shape: Shape) -> tuple[Document, str]:
    """Return the document that a text holds, and what is not as it should be."""
    document: Document = {}
    try:
        document = json.loads(text)
        problem = fault_of(document, shape)
        if not problem:
            # What can't be written again (no number, half a letter) was never written by us.
            json.dumps(document, ensure_ascii=False, allow_nan=False).encode()
    except (ValueError, RecursionError) as error:
        problem = f"{type(error).__name__}: {error}"
    return document, problem


def fault_of(value: Any, shape: Shape, place: str = "") -> str:
    """Return where a document is not of a shape and how, nothing if it is.

    Parameters
    ----------
    value : any
        The document or a part of it.
    shape : Kind, Maybe, mapping or list
        What it should be; a key that ends in a question mark may be missing.
    place : str
        Where in the document it stands.
    """
    if isinstance(shape, Maybe):
        return "" if value is None else fault_of(value, shape.shape, place)
    if isinstance(shape, Kind):
        return "" if _fits(value, shape) else f"{place} is not {shape.name}"
    if isinstance(shape, list):
        if not isinstance(value, list):
            return f"{place} is not a list"
        parts = ((entry, shape[0], f"{place} {n}") for n, entry in enumerate(value, start=1))
    else:
        if not isinstance(value, dict):
            return f"{place or 'it'} is not an object"
        wanted = {key.removesuffix("?"): inner for key, inner in shape.items()}
        lost = next((key for key in wanted if key in shape and key not in value), None)
        if lost is not None:
            return f"{place} {lost} is missing".strip()
        parts = (
            (value[key], inner, f"{place} {key}".strip())
            for key, inner in wanted.items()
            if key in value
        )
    return next((fault for part in parts if (fault := fault_of(*part))), "")


def _fits(value: Any, kind: Kind) -> bool:
    try:
        return kind.holds(value)
    except (ValueError, TypeError):
        return False
