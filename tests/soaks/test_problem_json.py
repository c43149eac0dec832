"""A problem written as JSON reads back to the last bit; a spoilt text says which key."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest

from fruitcast.errors import InputError
from fruitcast.soaks.problem import dump_problem
from tests.soaks.instances import small_problem, yard_like
from tests.soaks.problem_file import load_plan, load_problem


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


def test_a_soak_that_the_grower_has_fixed_reads_back() -> None:
    problem = yard_like(3, members=2)
    fixed = replace(problem.stacks[1], must=int(problem.stacks[1].first.soak[0]))
    problem = replace(problem, stacks=(problem.stacks[0], fixed, problem.stacks[2]))
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
        (lambda d: d.update(format="other"), "'format' should be 'fruitcast problem 2'"),
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


def first_of(document: dict[str, Any], part: str) -> dict[str, Any]:
    found: dict[str, Any] = document[part][0]
    return found


@pytest.mark.parametrize(
    ("change", "match"),
    [
        # Indices count from 0, and the last is one below the number of rows.
        (lambda d: first_of(d, "types")["start"].__setitem__(0, -1), "index of -1..[0-9]+ lies"),
        (lambda d: d["stacks"][0].update(type_index=-1), r"type_index: -1 is not one of"),
        (
            lambda d: d["stacks"][0].update(type_index=len(d["types"])),
            r"type_index: [0-9]+ is not one of",
        ),
        (
            lambda d: first_of(d, "types")["stop"].__setitem__(-1, len(d["soak_days"])),
            r"types\[0\].stop.*outside 0..",
        ),
        (
            lambda d: first_crops(d).update(row=[0, 0], member=[0, -1], day=[3, 3], kg=[1, 1]),
            "belongs to member -1, but years lists",
        ),
        (
            lambda d: first_crops(d).update(row=[0], member=[len(d["years"])], day=[3], kg=[1.0]),
            r"belongs to member [0-9]+, but years lists [0-9]+. Count members from 0",
        ),
        (
            lambda d: first_crops(d).update(row=[0], member=[0, 0], day=[3], kg=[1.0]),
            "equally long",
        ),
        (lambda d: first_crops(d).update(row=[[0]], member=[0], day=[3], kg=[1.0]), "equally long"),
        (lambda d: d.update(stacks=[3]), r"'stacks\[0\]': 3 stands where a table is wanted"),
        (lambda d: d.update(hours_a_day="x"), "'hours_a_day': 'x' can't be read"),
        (lambda d: d["stacks"][0].update(published="x"), "published': 'x' can't be read"),
    ],
)
def test_what_lies_outside_its_table_is_refused(change: Any, match: str) -> None:
    with pytest.raises(InputError, match=match):
        load_problem(spoil(change))


def test_a_member_too_many_in_any_table_is_noticed() -> None:
    document = json.loads(dump_problem(small_problem(0)))
    one = {"row": [0], "member": [len(document["years"])], "day": [3], "kg": [1.0]}
    tables = [
        (document["types"][0], "crops"),
        (document["types"][0], "end_crops"),
        (document["stacks"][-1]["first"], "crops"),
        (document["stacks"][-1]["first"], "none_crops"),
    ]
    for table, key in tables:
        right = table[key]
        table[key] = one
        with pytest.raises(InputError, match="belongs to member"):
            load_problem(json.dumps(document))
        table[key] = {**one, "member": [len(document["years"]) - 1]}
        load_problem(json.dumps(document))
        table[key] = right


def test_indices_at_both_ends_are_taken_and_the_message_names_the_ends() -> None:
    document = json.loads(dump_problem(small_problem(0)))
    last = len(document["soak_days"]) - 1
    stack = document["stacks"][0]["first"]
    stack.update(soak=[0, last], crops={"row": [1], "member": [0], "day": [3], "kg": [1.0]})
    made = load_problem(json.dumps(document))
    assert made.stacks[0].first.soak.tolist() == [0, last]
    stack.update(soak=[last + 1, 0, last + 2])
    with pytest.raises(InputError, match=rf"an index of 0..{last + 2} lies outside 0..{last}\."):
        load_problem(json.dumps(document))


def test_a_long_value_is_cut_and_one_that_fits_a_line_is_not() -> None:
    fits, long = "x" * 58, "y" * 59  # 60 and 61 letters with their quotes
    with pytest.raises(InputError, match=f"'weeks': '{fits}' can't be read"):
        load_problem(spoil(lambda d: d.update(weeks=fits)))
    with pytest.raises(InputError, match=r"'weeks': 'y{56}\.\.\. can't be read"):
        load_problem(spoil(lambda d: d.update(weeks=long)))


def test_hours_and_published_day_may_be_unknown() -> None:
    document = json.loads(dump_problem(small_problem(0)))
    for hours in (None, 2):
        document["hours_a_day"] = hours
        assert load_problem(json.dumps(document)).hours_a_day == hours
    for day in (None, 0, 3):
        document["stacks"][0]["published"] = day
        assert load_problem(json.dumps(document)).stacks[0].published == day
