"""Reads the JSON text of a scheduling problem again, each key as what it should be."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt

from fruitcast.errors import InputError
from fruitcast.soaks.problem import (
    FORMAT,
    Crops,
    FirstArcs,
    Hours,
    OutletDay,
    Plan,
    Prices,
    Problem,
    StackProblem,
    TypeArcs,
)

Entry = dict[str, object]
"""A part of the document, before each key is read as what it should be."""


def load_problem(text: str) -> Problem:
    """Return the problem written by `dump_problem`.

    Raises
    ------
    InputError
        If the text is not such a document; the message names the key.
    """
    document = _document(text)
    soak_days = _integers(document, "soak_days", "")
    types = tuple(
        _read_type(entry, f"types[{index}].", len(soak_days))
        for index, entry in enumerate(_list(document, "types", ""))
    )
    years = _read(document, "years", "", lambda values: tuple(int(year) for year in values))
    problem = Problem(
        today=_read(document, "today", "", date.fromisoformat),
        weeks=_read(document, "weeks", "", int),
        tail_days=_read(document, "tail_days", "", int),
        years=years,
        seed=_read(document, "seed", "", int),
        soak_days=soak_days,
        next_soak_day=_read(document, "next_soak_day", "", int),
        rest_days=_read(document, "rest_days", "", int),
        tank_logs=_read(document, "tank_logs", "", int),
        hours_a_day=_read(document, "hours_a_day", "", _hours_or_none),
        places=_read(document, "places", "", _int_or_none),
        soak_hours_per_log=_read(document, "soak_hours_per_log", "", float),
        pull_hours_per_log=_read(document, "pull_hours_per_log", "", float),
        cold_days=_read(document, "cold_days", "", int),
        stock=_read(
            document, "stock", "", lambda rows: tuple((int(day), float(kg)) for day, kg in rows)
        ),
        outlets=tuple(
            OutletDay(
                outlet=_read(entry, "outlet", f"outlets[{index}].", str),
                day=_read(entry, "day", f"outlets[{index}].", int),
                target=_read(entry, "target", f"outlets[{index}].", float),
                weight=_read(entry, "weight", f"outlets[{index}].", float),
            )
            for index, entry in enumerate(_list(document, "outlets", ""))
        ),
        types=types,
        stacks=tuple(
            _read_stack(entry, f"stacks[{index}].", len(soak_days), len(types))
            for index, entry in enumerate(_list(document, "stacks", ""))
        ),
        prices=_read_prices(_read(document, "prices", "", dict)),
        promise=_read(document, "promise", "", float),
    )
    _check_members(problem)
    return problem


def load_plan(text: str) -> Plan | None:
    """Return the plan that stands beside the problem, None when there is none."""
    document = _document(text)
    if "plan" not in document:
        return None
    plan: Plan = _read(
        document, "plan", "", lambda paths: tuple(tuple(int(soak) for soak in p) for p in paths)
    )
    return plan


def _read_type(entry: Entry, place: str, soaks: int) -> TypeArcs:
    start = _integers(entry, "start", place, soaks)
    kind = TypeArcs(
        name=_read(entry, "name", place, str),
        start=start,
        stop=_integers(entry, "stop", place, soaks, length=len(start)),
        crops=_read_crops(entry, "crops", place, len(start)),
        end_crops=_read_crops(entry, "end_crops", place, soaks),
        nights=_integers(entry, "nights", place, length=soaks),
        standing=_integers(entry, "standing", place, length=soaks),
        hours=_column(entry, "hours", place, np.float64, soaks),
        allowed=_column(entry, "allowed", place, np.bool_, soaks),
    )
    if np.any(kind.stop <= kind.start):
        raise InputError(f"{place}stop: an arc stops at or before its start. Give stop > start.")
    return kind


def _read_stack(entry: Entry, place: str, soaks: int, types: int) -> StackProblem:
    first = _read(entry, "first", place, dict)
    soak = _integers(first, "soak", f"{place}first.", soaks)
    type_index = _read(entry, "type_index", place, int)
    if not 0 <= type_index < types:
        raise InputError(f"{place}type_index: {type_index} is not one of {types} types.")
    return StackProblem(
        name=_read(entry, "name", place, str),
        logs=_read(entry, "logs", place, int),
        type_index=type_index,
        effective_logs=_read(entry, "scale", place, float),
        first=FirstArcs(
            soak=soak,
            crops=_read_crops(first, "crops", f"{place}first.", len(soak)),
            none_crops=_read_crops(first, "none_crops", f"{place}first.", 1),
        ),
        end_flush=_read(entry, "end_flush", place, float),
        rested_from=_read(entry, "rested_from", place, int),
        published=_read(entry, "published", place, _int_or_none),
        was_published=_read(entry, "was_published", place, bool),
        fixed_nights=_read(entry, "fixed_nights", place, int),
        fixed_standing=_read(entry, "fixed_standing", place, int),
        handling=_read(entry, "handling", place, float),
        fixed_logs=_read(entry, "fixed_logs", place, _int_or_none),
        must=_read(entry, "must", place, _int_or_none),
    )


def _read_crops(entry: Entry, key: str, place: str, rows: int) -> Crops:
    columns = _read(entry, key, place, dict)
    row = _integers(columns, "row", f"{place}{key}.", rows)
    return Crops(
        row=row,
        member=_integers(columns, "member", f"{place}{key}.", length=len(row)),
        day=_integers(columns, "day", f"{place}{key}.", length=len(row)),
        kg=_column(columns, "kg", f"{place}{key}.", np.float64, len(row)),
    )


def _read_prices(entry: Entry) -> Prices:
    return Prices(
        expired=_read(entry, "expired", "prices.", float),
        soak=_read(entry, "soak", "prices.", float),
        change=_read(entry, "change", "prices.", float),
        certainty=_read(entry, "certainty", "prices.", float),
    )


def _check_members(problem: Problem) -> None:
    tables = [kind.crops for kind in problem.types] + [kind.end_crops for kind in problem.types]
    for stack in problem.stacks:
        tables += [stack.first.crops, stack.first.none_crops]
    for crops in tables:
        wrong = crops.member[(crops.member < 0) | (crops.member >= problem.members)]
        if len(wrong):
            raise InputError(
                f"A crop belongs to member {wrong[0]}, but years lists {problem.members}. "
                "Count members from 0."
            )


def _document(text: str) -> Entry:
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as error:
        # Not JSON at all, a number of thousands of digits, or lists nested thousands deep.
        raise InputError(
            f"The problem is not JSON: {error}. Write it again with 'plan --problem FILE'."
        ) from error
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise InputError(
            f"The JSON is not a scheduling problem: 'format' should be '{FORMAT}'. "
            "Write it again with 'plan --problem FILE'."
        )
    return document


def _read(entry: Entry, key: str, place: str, kind: Callable[[Any], Any]) -> Any:
    if not isinstance(entry, dict):
        raise InputError(
            f"Problem key '{place.rstrip('.')}': {_short(entry)} stands where a table is wanted. "
            "Write the problem again with 'plan --problem FILE'."
        )
    if key not in entry:
        raise InputError(f"Problem key '{place}{key}' is missing. Write the problem again.")
    try:
        return kind(entry[key])
    except (TypeError, ValueError, OverflowError) as error:
        raise InputError(
            f"Problem key '{place}{key}': {_short(entry[key])} can't be read ({error}). "
            "Write the problem again with 'plan --problem FILE'."
        ) from error


def _short(value: Any) -> str:
    try:
        text = repr(value)
    except ValueError:  # a number of thousands of digits
        return "a huge number"
    return text if len(text) <= 60 else f"{text[:57]}..."


def _list(entry: Entry, key: str, place: str) -> list:
    return list(_read(entry, key, place, list))


def _column(
    entry: Entry, key: str, place: str, dtype: npt.DTypeLike, length: int | None = None
) -> npt.NDArray[Any]:
    column: npt.NDArray[Any] = _read(
        entry, key, place, lambda values: np.array(values, dtype=dtype)
    )
    if column.ndim != 1 or (length is not None and len(column) != length):
        raise InputError(
            f"Problem key '{place}{key}': {column.shape} values, expected {length}. "
            "Columns of one table are equally long."
        )
    return column


def _integers(
    entry: Entry,
    key: str,
    place: str,
    below: int | None = None,
    length: int | None = None,
) -> npt.NDArray[np.int64]:
    column = _column(entry, key, place, np.int64, length)
    if below is not None and len(column) and not 0 <= column.min() <= column.max() < below:
        raise InputError(
            f"Problem key '{place}{key}': an index of {column.min()}..{column.max()} lies "
            f"outside 0..{below - 1}."
        )
    return column


def _hours_or_none(value: Any) -> Hours | None:
    if not isinstance(value, list):
        return None if value is None else float(value)
    if len(value) != 7:
        raise ValueError(f"{len(value)} hours, one for each of the seven weekdays are wanted")
    return tuple(float(hours) for hours in value)


def _int_or_none(value: Any) -> int | None:
    return None if value is None else int(value)
