"""The damages themselves: each is valid, is seen by a test, and leaves nothing behind."""

from __future__ import annotations

import ast
from collections import Counter

import pytest

from fruitcast.biology import moisture, run_length
from tests.biology.test_run_length import test_lag_fills_the_days_before_the_table as lag_test
from tests.biology.test_run_length import (
    test_rolling_sum_takes_the_day_and_those_before_it as rolling_sum_test,
)
from tests.mutation.mutants import FOLDER, PACKAGES, Place, chosen, damaged, places, ways
from tests.mutation.running import Reach, reaching
from tests.mutation.swapping import swapped

RUN_LENGTH = FOLDER / "biology" / "run_length.py"


def of_kind(kind: str, before: str) -> Place:
    """The first damage of a kind to `run_length` whose words begin so."""
    return next(
        place
        for place in places(RUN_LENGTH)
        if place.kind == kind and damaged(place)[1].startswith(before)
    )


def test_a_damage_is_seen_by_a_test_and_then_taken_out_again():
    rolling_sum_test()
    with swapped(of_kind("deleted", "total[back:] += ")) as words:
        assert words == "total[back:] += x[:-back] -> pass"
        with pytest.raises(AssertionError):
            rolling_sum_test()
        lag_test()
    rolling_sum_test()


def test_a_changed_constant_reaches_the_functions_that_read_it():
    place = of_kind("float", "1e-09")
    before = run_length._TOLERANCE
    with swapped(place):
        assert abs(run_length._TOLERANCE / before - 1.1) < 1e-12
    assert before == run_length._TOLERANCE


def test_a_cached_answer_is_forgotten():
    cached = [f for f in vars(moisture).values() if hasattr(f, "cache_clear")]
    assert cached
    path = FOLDER / "biology" / "moisture.py"
    place = next(p for p in places(path) if p.kind == "arithmetic")
    with swapped(place):
        assert all(f.cache_info().currsize == 0 for f in cached)


@pytest.mark.parametrize(
    "text, expected",
    [
        ("a < b", ["a <= b", "a >= b"]),
        ("a == b", ["a != b"]),
        ("not a", ["a"]),
        ("-a", ["a"]),
        ("3", ["4", "2"]),
        ("0", ["1"]),
        ("2.0", ["2.2"]),
        ("0.0", ["1.0"]),
        ("True", ["False"]),
        ("a + b", ["a - b"]),
        ("a + 'kg'", []),
        ("a and b", ["a or b"]),
        ("min(a, b)", ["max(a, b)"]),
        ("np.maximum(a, b)", ["np.minimum(a, b)"]),
        ("a if b else c", ["a if not b else c"]),
        ("'text'", []),
    ],
)
def test_what_an_expression_becomes(text, expected):
    node = ast.parse(text, mode="eval").body
    assert [ast.unparse(ast.fix_missing_locations(new)) for _, new in ways(node)] == expected


def test_a_constant_is_not_returned_in_place_of_itself(tmp_path):
    path = tmp_path / "module.py"
    path.write_text("def f(a) -> bool:\n    if a:\n        return False\n    return a.b\n")
    found = [damaged(place)[1] for place in places(path) if place.kind == "returned constant"]
    assert found == [
        "return False -> return True",
        "return a.b -> return True",
        "return a.b -> return False",
    ]


def test_hints_texts_and_messages_are_left_alone(tmp_path):
    text = '''"""Longer than 3 < 4."""
x: "Array[1]" = 5
def f(a: Kind[2] = 6) -> Kind[3]:
    """Not 7."""
    if a:
        raise ValueError(f"more than {8}")
    return a
'''
    path = tmp_path / "module.py"
    path.write_text(text)
    found = [damaged(place)[1] for place in places(path)]
    assert found == ["5 -> 6", "5 -> 4", "6 -> 7", "6 -> 5", "if a: -> if not a:"]


def test_every_kind_occurs_and_a_sample_of_them_compiles():
    every = [p for name in PACKAGES for path in (FOLDER / name).glob("*.py") for p in places(path)]
    assert len(Counter(place.kind for place in every)) == 13
    for place in every[::400]:
        tree, words = damaged(place)
        compile(tree, str(place.path), "exec")
        before, _, after = words.partition(" -> ")
        assert before and after


def test_the_choice_is_the_seed_s_and_follows_the_lines():
    some = chosen(100, 1)
    assert some == chosen(100, 1) != chosen(100, 2)
    counts = Counter(place.package for place in some)
    assert sum(counts.values()) == 100
    assert counts["soaks"] > counts["biology"] > counts["hindcast"] > 0


def test_a_change_to_one_function_leaves_the_names_of_all_other_damages(tmp_path):
    path = tmp_path / "module.py"
    text = "def f(a):\n    return a + 1\n\ndef g(a):\n    return a + 1 if a > 2 else a + 1\n"
    path.write_text(text)
    before = [place.mark for place in places(path)]
    assert len(set(before)) == len(before) == 13
    places.cache_clear()
    path.write_text(text.replace("return a + 1\n\n", "b = 3 * a\n    return b\n\n"))
    after = [place.mark for place in places(path)]
    assert [mark for mark in before if " .g " in mark] == [m for m in after if " .g " in m]
    assert not {mark for mark in before if " .f " in mark} & set(after)


def test_it_meets_the_tests_that_reach_it_each_kind_in_turn_within_the_time():
    place = of_kind("deleted", "total[back:] += ")
    path, line = str(RUN_LENGTH), place.line
    reaches = {
        "a.py::test_slow": Reach(4.0, {path: frozenset({line})}),
        "a.py::test_quick[1]": Reach(0.1, {path: frozenset({line})}),
        "a.py::test_quick[2]": Reach(0.2, {path: frozenset({line})}),
        "a.py::test_middle[2]": Reach(0.6, {path: frozenset({line, line + 1})}),
        "a.py::test_elsewhere": Reach(0.1, {path: frozenset({line + 40})}),
        "a.py::test_other_module": Reach(0.1, {"other.py": frozenset({line})}),
    }
    assert reaching(place, reaches) == [
        f"a.py::test_{name}" for name in ("quick[1]", "middle[2]", "quick[2]")
    ]
