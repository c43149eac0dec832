"""A problem written as JSON reads back to the last bit; a spoilt text says which key."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest

from fruitcast.errors import InputError
from fruitcast.schedule.problem_json import dump_problem, load_plan, load_problem
from tests.schedule.instances import small_problem, yard_like


def assert_same(left: Any, right: Any, place: str = "problem") -> None:
    """Fail with the attribute's name unless both are equal, arrays and types included."""
    assert type(left) is type(right), place
    if is_dataclass(left):
        for item in fields(left):
            name = item.name
            assert_same(getattr(left, name), getattr(right, name), f"{place}.{name}")
    elif isinstance(left, np.ndarray):
        assert left.dtype == right.dtype, place
        np.testing.assert_array_equal(left, right, err_msg=place)
    elif isinstance(left, tuple):
        assert len(left) == len(right), place
        for index, pair in enumerate(zip(left, right, strict=True)):
            assert_same(*pair, f"{place}[{index}]")
    else:
        assert left == right, place


@pytest.mark.parametrize("seed", range(20))
def test_small_problems_read_back_exactly(seed: int) -> None:
    problem = small_problem(seed)
    assert_same(load_problem(dump_problem(problem)), problem)


def test_a_yard_reads_back_exactly() -> None:
    problem = yard_like(20, members=5)
    assert_same(load_problem(dump_problem(problem)), problem)


def test_the_plan_travels_with_its_days() -> None:
    problem = small_problem(4)
    plan = tuple(tuple(stack.first.soak[:1].tolist()) for stack in problem.stacks)
    text = dump_problem(problem, plan)
    assert load_plan(text) == plan
    assert load_plan(dump_problem(problem)) is None
    chosen = json.loads(text)["chosen"]
    assert [entry["stack"] for entry in chosen] == [stack.name for stack in problem.stacks]
    assert chosen[0]["soak_days"] == [int(problem.soak_days[soak]) for soak in plan[0]]


def spoil(change: Any) -> str:
    """Return a problem's JSON after `change` has altered the document."""
    document = json.loads(dump_problem(small_problem(0)))
    change(document)
    return json.dumps(document)


def first_crops(document: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = document["stacks"][0]["first"]["none_crops"]
    return found


BAD_MEMBER = {"row": [0, 0], "member": [0, 99], "day": [3, 3], "kg": [1.0, 1.0]}
BAD_ROW = {"row": [0, 1], "member": [0, 0], "day": [3, 3], "kg": [1.0, 1.0]}


@pytest.mark.parametrize(
    ("change", "match"),
    [
        (lambda d: d.pop("tank_logs"), "'tank_logs' is missing"),
        (lambda d: d.update(format="other"), "'format' should be 'fruitcast problem 1'"),
        (lambda d: d.update(today="2027-13-01"), "'today': '2027-13-01' can't be read"),
        (lambda d: d.update(weeks="many"), "'weeks': 'many' can't be read"),
        (lambda d: d["types"][0]["nights"].pop(), r"'types\[0\].nights'.*equally long"),
        (lambda d: d["types"][0]["stop"].__setitem__(0, 999), r"types\[0\].stop.*outside"),
        (lambda d: d["stacks"][0].update(type_index=7), r"stacks\[0\].type_index: 7"),
        (lambda d: d.update(years=[]), "but years lists 0"),
        (lambda d: first_crops(d).update(BAD_MEMBER), "belongs to member 99, but years lists"),
        (lambda d: first_crops(d).update(BAD_ROW), r"stacks\[0\].first.none_crops.row.*outside"),
        (lambda d: d["types"][0]["stop"].__setitem__(0, 0), "stops at or before"),
    ],
)
def test_a_spoilt_text_names_the_key(change: Any, match: str) -> None:
    with pytest.raises(InputError, match=match):
        load_problem(spoil(change))


@pytest.mark.parametrize("text", ["", "<html>", "[]", "{}"])
def test_something_else_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="plan --problem FILE"):
        load_problem(text)
