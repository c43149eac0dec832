"""The numbers of the model: each labelled, each read somewhere, each the grower's to change."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, get_type_hints

import numpy as np
import pytest

from fruitcast.biology.forced import soak_hours
from fruitcast.biology.moisture import drying_rate, presumed_dead, soak_gain, throughfall
from fruitcast.biology.natural import trigger_days
from fruitcast.biology.picking import cover_wanted, flush_days, pick_twice
from fruitcast.biology.spawn_run import mycelium_speed, required_progress
from fruitcast.biology.tree_seasons import leaf_fall_day, leaf_out_day, thawed_day
from fruitcast.biology.watering import days_without_rain
from fruitcast.biology.yields import bearing_life, rest_factor, temperature_factor
from fruitcast.diary.limits import Limits, Say
from fruitcast.diary.recording import parse_record
from fruitcast.diary.state import Pick, StackState, first_picks
from fruitcast.errors import FaultsError
from fruitcast.forecast.parts import YARD, yields_unknown
from fruitcast.numbers import LABELS, Numbers, default_numbers, numbers_from
from fruitcast.topics import STRAIN_CLASSES, DoubtNumbers, StrainNumbers, TreeNumbers
from fruitcast.yard.settings import parse_settings
from fruitcast.yard.stacks import parse_stacks
from tests.yard.yards import SETTINGS, STACKS

PACKAGE = Path(__file__).parents[1] / "fruitcast"
NUMBERS = default_numbers()

PURE = ("biology", "weather")
MOST_WITH_ALL = 40
"""So many functions may put rules together from all numbers; the others name what they use."""

# What a published number may cite: extension publications by their series number, papers by
# author and year.
SOURCES = (
    r"FOR-(82|83|85|90)\b",
    r"F-004[12]\b.*Lyon et al\. 2022",
    r"Mata & Mishra 2015",
    r"Zervakis et al\. 2001",
    r"Bruhn et al\. 2009",
    r"Leatham 1982",
    r"Frey et al\. 2020",
    r"Kobayashi et al\. 2020",
    r"Miles & Smith 2009",
    r"strain and wood species trial, ASHS \(abstract\)",
)


def test_a_number_has_unit_label_and_reason_and_lies_in_its_own_range() -> None:
    for n in NUMBERS.entries():
        assert n.label in LABELS, n.key
        assert n.unit and n.why, n.key
        assert n.low <= n.value <= n.high and n.low < n.high, n.key


def test_ten_numbers_say_how_growers_find_their_own() -> None:
    ten = [number for number in NUMBERS.entries() if number.find]
    assert len(ten) == 10
    # What is published or common practice is no yard's to find.
    assert {number.label for number in ten} == {"judgement"}
    assert not [number.key for number in ten if number.find.endswith(".")]


def test_published_numbers_cite_a_known_source() -> None:
    published = [number for number in NUMBERS.entries() if number.label == "published"]
    assert published
    uncited = [n.key for n in published if not any(re.search(s, n.why) for s in SOURCES)]
    assert not uncited


def test_common_practice_is_no_figure_of_ours() -> None:
    common = [number for number in NUMBERS.entries() if number.label == "common practice"]
    assert common
    assert not [number.key for number in common if re.search(r"\bours\b", number.why)]


@pytest.mark.parametrize("end", ["low", "high"])
def test_settings_accept_every_number_at_the_ends_of_its_range(end: str) -> None:
    lines = [
        f"{'.'.join(_quoted(part) for part in n.key.split('.'))} = {getattr(n, end)!r}"
        for n in NUMBERS.entries()
    ]
    yard, findings = parse_settings(SETTINGS + "[numbers]\n" + "\n".join(lines) + "\n", Path("/y"))
    assert yard is not None and not findings.faults
    assert yard.numbers == {n.key: getattr(n, end) for n in NUMBERS.entries()}
    changed = NUMBERS.with_overrides(yard.numbers)
    assert {n.key: n.value for n in changed.entries()} == yard.numbers
    assert all(number.overridden for number in changed.entries())


def test_a_value_outside_the_range_is_refused_with_its_key_named() -> None:
    for n in NUMBERS.entries():
        margin = 1e-3 * (n.high - n.low)
        for value in (n.low - margin, n.high + margin):
            (fault,) = NUMBERS.override_faults({n.key: value})
            assert f"'{n.key}'" in str(fault) and "Give a value in that range" in str(fault)
    with pytest.raises(FaultsError, match=r"'leaf\.fall_days'.*outside 1 to 40 day"):
        NUMBERS.with_overrides({"leaf.fall_days": 41})


def _quoted(part: str) -> str:
    return part if re.fullmatch(r"[A-Za-z0-9_-]+", part) else f'"{part}"'


def _of_topics(hint: object) -> bool:
    return getattr(hint, "__module__", "") == "fruitcast.topics"


def _names(kind: type, prefix: str) -> Iterator[tuple[str, str, str]]:
    """Yield the class, the name and the dotted key of every number under a class of numbers."""
    for field, hint in get_type_hints(kind).items():
        key = f"{prefix}{'yield' if field == 'yields' else field}"
        if field == "strains":
            for strain_class in STRAIN_CLASSES:
                yield from _names(StrainNumbers, f"{strain_class}.")
        elif field == "trees":
            for tree in NUMBERS.trees:
                yield from _names(TreeNumbers, f"tree.{tree}.")
        elif _of_topics(hint):
            yield from _names(hint, f"{key}.")
        elif key in NUMBERS.table:
            yield kind.__name__, field, key


NAMED = list(_names(Numbers, ""))
OWNERS = {
    (field, hint.__name__)
    for kind in (Numbers, StrainNumbers, DoubtNumbers)
    for field, hint in get_type_hints(kind).items()
    if _of_topics(hint)
} | {("strain", "StrainNumbers"), ("tree", "TreeNumbers")}
KINDS = {kind for _, kind in OWNERS}


def _last_name(node: ast.expr) -> str:
    """Return the word next to the dot: 'forced' of `numbers.forced`, 'tree' of `n.tree(x)`."""
    if isinstance(node, ast.Call):
        return _last_name(node.func)
    return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")


def keys_read(source: str) -> set[str]:
    """Return the keys whose numbers a module reads off a class of numbers.

    Whose number it is follows from the word before the dot: a topic, or what was annotated
    as one or set to one, or `self` inside its class.
    """
    nodes = list(ast.walk(ast.parse(source)))
    owners = set(OWNERS)
    for node in nodes:
        if isinstance(node, ast.arg | ast.AnnAssign) and node.annotation is not None:
            name = node.arg if isinstance(node, ast.arg) else _last_name(node.target)
            owners |= {(name, kind) for kind in KINDS & {_last_name(node.annotation)}}
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            values = [node.value]
            if isinstance(node.value, ast.IfExp):
                values = [node.value.body, node.value.orelse]
            words = {_last_name(value) for value in values}
            owners |= {(node.targets[0].id, kind) for word, kind in OWNERS if word in words}
        elif isinstance(node, ast.ClassDef) and node.name in KINDS:
            owners.add(("self", node.name))
    kinds = defaultdict(set)
    for word, kind in owners:
        kinds[word].add(kind)
    read = {
        (kind, node.attr)
        for node in nodes
        if isinstance(node, ast.Attribute)
        for kind in kinds.get(_last_name(node.value), ())
    }
    return {key for kind, field, key in NAMED if (kind, field) in read}


def test_every_number_is_read_by_some_module() -> None:
    read: set[str] = set()
    for path in PACKAGE.rglob("*.py"):
        read |= keys_read(path.read_text(encoding="utf-8"))
    assert set(NUMBERS.table) - read == set()


def test_a_number_that_only_a_docstring_names_counts_as_unread() -> None:
    source = 'def f(numbers):\n    """Needs `leaf.fall_days`."""\n    return numbers.leaf.{}\n'
    assert keys_read(source.format("fall_below")) == {"leaf.fall_below"}
    assert keys_read(source.format("fall")) == set()
    assert keys_read("def f(of: LeafNumbers): return of.fall_below") == {"leaf.fall_below"}


def test_every_number_stands_under_its_name() -> None:
    assert sorted(key for _, _, key in NAMED) == sorted(NUMBERS.table)
    own = NUMBERS.with_overrides({"wide-range.yield.base": 0.4, "leaf.fall_days": 12})
    assert own.strain("wide-range").yields.base == 0.4
    assert own.leaf.fall_days == 12 and NUMBERS.leaf.fall_days != 12


def test_a_tree_takes_what_it_lacks_from_other_hardwood() -> None:
    assert "tree.ailanthus.density" not in NUMBERS.table
    own = NUMBERS.with_overrides({"tree.other hardwood.density": 905})
    assert own.tree("ailanthus").density == own.tree("quince").density == 905
    assert own.tree("ailanthus").life == NUMBERS.table["tree.ailanthus.life"].value
    own = own.with_overrides({"tree.ailanthus.density": 700})
    assert own.tree("ailanthus").density == 700 and own.tree("quince").density == 905
    assert own.table["tree.ailanthus.density"].overridden
    with pytest.raises(FaultsError, match=r"tree\.ailanthus\.density'.*outside 500 to 1300"):
        own.with_overrides({"tree.ailanthus.density": 7})
    with pytest.raises(FaultsError, match="is not a number of the model"):
        own.with_overrides({"tree.quince.density": 700})


def test_a_key_without_a_name_is_refused() -> None:
    key = "leaf.fal_days"
    with pytest.raises(ValueError, match=r"leaf\.fal_days: topics\.py has no name for it"):
        numbers_from({**NUMBERS.table, key: replace(NUMBERS.table["leaf.fall_days"], key=key)})


@pytest.mark.parametrize(
    "key", ["leaf.fall_days", "warm-weather.yield.base", "tree.other hardwood.life"]
)
def test_a_name_without_a_key_is_refused(key: str) -> None:
    table = {k: n for k, n in NUMBERS.table.items() if k != key}
    with pytest.raises(ValueError, match=f"no (tree.*life|{re.escape(key)})"):
        numbers_from(table)


@pytest.mark.parametrize("key", ["wide-range.natural.drop", "cold-weather.natural.night_upper"])
def test_a_strain_class_that_nothing_sets_off_is_refused(key: str) -> None:
    with pytest.raises(ValueError, match="night_lower and night_upper, or drop"):
        numbers_from({k: n for k, n in NUMBERS.table.items() if k != key})


def takes_the_whole_bag(source: str) -> list[str]:
    """Return the functions that take all numbers, so that nothing says which ones they use."""
    word = re.compile(r"\bNumbers\b")
    return [
        node.name
        for node in (ast.walk(ast.parse(source)) if word.search(source) else ())
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        for arg in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
        if arg.annotation is not None and word.search(ast.unparse(arg.annotation))
    ]


def test_few_functions_take_all_numbers_and_no_pure_rule_does() -> None:
    found = {
        path.relative_to(PACKAGE): takes_the_whole_bag(path.read_text(encoding="utf-8"))
        for path in PACKAGE.rglob("*.py")
    }
    assert not [(p, names) for p, names in found.items() if p.parts[0] in PURE and names]
    assert sum(map(len, found.values())) <= MOST_WITH_ALL
    assert takes_the_whole_bag("def f(a, *, n: Numbers | None = None): ...") == ["f"]
    assert takes_the_whole_bag("def f(forced: ForcedNumbers): ...") == []


# One warm year from midwinter on, with rain in spells: enough for every rule below to bite.
DAY = np.arange(365.0)
TMEAN = (10 - 14 * np.cos(2 * np.pi * DAY / 365) + 4 * np.sin(DAY * 0.9))[:, None]
RAIN = np.where(DAY % 16 < 2, 14.0, 0.0)[:, None]
MOIST = np.full_like(TMEAN, 0.7)


def _triggers(strain_class: str) -> Callable[[Numbers], Any]:
    return lambda numbers: trigger_days(
        numbers.strain(strain_class).natural,
        TMEAN - 5,
        TMEAN,
        RAIN,
        MOIST,
        numbers.natural,
        urgent_below=numbers.watering.urgent_below,
    )


def _hours(numbers: Numbers) -> float | None:
    stacks = {"A": StackState("A", 24)}
    limits = Limits(Say("us"), numbers, stacks, date(2027, 5, 3))
    return parse_record("soak", "A overnight", limits).event.hours


def _flushes(numbers: Numbers) -> int:
    picks = tuple(Pick(date(2027, 5, day), 1.0, "natural") for day in (1, 11, 21))
    return len(first_picks(picks, flush_days=numbers.diary.flush_days))


def _speed(numbers: Numbers) -> Any:
    return mycelium_speed(TMEAN - 5, TMEAN + 5, numbers.mycelium, shade=0.8)


CHANGES: list[tuple[str, float, Callable[[Numbers], Any]]] = [
    ("mycelium.optimum_temperature", 28, _speed),
    (
        "spawn_run.sawdust",
        0.8,
        lambda n: required_progress(
            "sawdust",
            0.12,
            n.spawn_run,
            class_factor=n.strain("wide-range").spawn_run.factor,
            tree_factor=n.tree("").starts,
        ),
    ),
    (
        "tree.oak.starts",
        0.8,
        lambda n: required_progress(
            "plug",
            0.12,
            n.spawn_run,
            class_factor=n.strain("wide-range").spawn_run.factor,
            tree_factor=n.tree("oak").starts,
        ),
    ),
    ("tree.oak.life", 0.7, lambda n: bearing_life(0.12, n.tree("oak"), n.yields)),
    (
        "wide-range.range.upper",
        28,
        lambda n: temperature_factor(n.strain("wide-range").range, 26.0, n.yields),
    ),
    ("wide-range.yield.base", 0.4, lambda n: n.strain("wide-range").yields.base),
    ("forced.cool_below", 14, lambda n: soak_hours(13.0, n.forced)),
    ("forced.overnight_hours", 10, _hours),
    ("natural.rain", 40, _triggers("wide-range")),
    ("natural.spell_days", 9, _triggers("cold-weather")),
    ("natural.longest_flush", 25, lambda n: flush_days("natural", 10.0, n.picking, n.natural)),
    ("picking.twice_from", 35, lambda n: pick_twice(30.0, twice_from=n.picking.twice_from)),
    ("picking.rain_from", 15, lambda n: cover_wanted(10.0, rain_from=n.picking.rain_from)),
    ("yield.rest_time", 90, lambda n: rest_factor(40, n.yields)),
    ("spread.yield_yard", 0.5, lambda n: yields_unknown(n.spread).including([(YARD,)]).variance),
    ("moisture.dead_below", 0.3, lambda n: presumed_dead(0.35, dead_below=n.moisture.dead_below)),
    (
        "watering.rain_day",
        5,
        lambda n: throughfall(RAIN, 0.8, canopy_storage=n.watering.rain_day),
    ),
    ("moisture.drying_days", 90, lambda n: drying_rate(4.0, 0.12, n.moisture)),
    ("moisture.soak_uptake", 2, lambda n: soak_gain(0.5, 12.0, 0.12, 0.56, n.moisture)),
    (
        "watering.rain_day",
        10,
        lambda n: days_without_rain(RAIN * 0.5, rain_day=n.watering.rain_day),
    ),
    ("leaf.out_requirement", 400, lambda n: leaf_out_day(TMEAN, n.leaf)),
    ("leaf.fall_days", 35, lambda n: leaf_fall_day(TMEAN, n.leaf)),
    (
        "inoculation.thaw_days",
        28,
        lambda n: thawed_day(TMEAN, n.inoculation),
    ),
    ("diary.flush_days", 7, _flushes),
    (
        "log.most_diameter",
        0.15,
        lambda n: parse_stacks(STACKS.replace("12.5", "20"), n)[1].warnings,
    ),
]


@pytest.mark.parametrize(("key", "value", "rule"), CHANGES, ids=[key for key, _, _ in CHANGES])
def test_a_growers_own_number_changes_what_its_rule_says(
    key: str, value: float, rule: Callable[[Numbers], Any]
) -> None:
    ours, own = rule(NUMBERS), rule(NUMBERS.with_overrides({key: value}))
    assert not np.array_equal(np.asarray(ours), np.asarray(own))
