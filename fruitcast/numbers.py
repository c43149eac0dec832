"""The biological and horticultural numbers, each with unit, label and source.

All of them stand in `numbers.toml` beside this module, under dotted keys. They are read once
into the classes of `topics`: the number with the key ``schedule.rest_days`` is
``numbers.schedule.rest_days``, and ``wide-range.forced.requirement`` is
``numbers.strain("wide-range").forced.requirement``. A key without a name there, or a name
without a key, is refused when they are read. A grower may override any of them from the
yard's settings.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, get_type_hints

from fruitcast import topics
from fruitcast.errors import Fault, FaultsError

LABELS = ("published", "common practice", "judgement", "memory")

DROPPED = frozenset(
    {
        "diary.complete_days",
        "diary.unlikely_yield",
        "doubt.class_days",
        "forced.overnight_hours_thin",
        "forced.thin_below",
        "inoculation.thimble_bit",
        "inoculation.thimble_depth",
        "moisture.bark_factor",
        "moisture.canopy_storage",
        "moisture.drought_days",
        "moisture.freezing_below",
        "moisture.rain_uptake_limit",
        "moisture.reference_diameter",
        "moisture.reference_evaporation",
        "moisture.rewetting_dry_share",
        "moisture.rewetting_full_above",
        "natural.change_days",
        "natural.dry_days",
        "natural.over_days",
        "picking.pin_spread",
        "picking.start_doubt",
        "schedule.large_flush",
        "spawn_run.least_diameter_factor",
        "spawn_run.planning_days",
        "spawn_run.plug",
        "spawn_run.reference_diameter",
        "wide-range.spawn_run.factor",
        "yield.reference_diameter",
        "yield.reference_length",
        *(f"{name}.forced.cap_temperature" for name in topics.STRAIN_CLASSES),
        *(f"{name}.forced.unreliable_below" for name in topics.STRAIN_CLASSES),
        *(f"{name}.natural.chill" for name in topics.STRAIN_CLASSES),
    }
)
"""Numbers that the model does without by now; a yard's settings may still name them."""


@dataclass(frozen=True)
class Number:
    """One number of the model.

    Attributes
    ----------
    key : str
        Dotted key.
    value : float
        The value in use.
    unit : str
        Unit, 'unitless' when it has none.
    label : str
        One of `LABELS`.
    why : str
        The source when published or from memory, else the reason.
    low, high : float
        The range an override must lie in, both ends included.
    overridden : bool
        Whether the grower's value replaces ours.
    find : str
        How growers find their own, for the numbers that plans hang on most; else empty.
    """

    key: str
    value: float
    unit: str
    label: str
    why: str
    low: float
    high: float
    overridden: bool = False
    find: str = ""


@dataclass(frozen=True, kw_only=True)
class Numbers:
    """All numbers in use."""

    work: topics.WorkNumbers
    yard: topics.YardNumbers
    mycelium: topics.MyceliumNumbers
    spawn_run: topics.SpawnRunNumbers
    forced: topics.ForcedNumbers
    natural: topics.NaturalNumbers
    picking: topics.PickingNumbers
    yields: topics.YieldsNumbers
    learning: topics.LearningNumbers
    spread: topics.SpreadNumbers
    diary: topics.DiaryNumbers
    care: topics.CareNumbers
    log: topics.LogNumbers
    moisture: topics.MoistureNumbers
    watering: topics.WateringNumbers
    forecast: topics.ForecastNumbers
    schedule: topics.ScheduleNumbers
    inoculation: topics.InoculationNumbers
    leaf: topics.LeafNumbers
    standard_log: topics.StandardLogNumbers
    reported: topics.ReportedNumbers
    doubt: topics.DoubtNumbers
    strains: Mapping[str, topics.StrainNumbers]
    trees: Mapping[str, topics.TreeNumbers]  # by tree species, for those with a number of their own
    table: Mapping[str, Number]  # every number with its label, source and range, by dotted key

    def strain(self, name: str) -> topics.StrainNumbers:
        """Return the numbers of one strain class."""
        return self.strains[name]

    def tree(self, name: str) -> topics.TreeNumbers:
        """Return the numbers of a tree species, of its stand-in, or of `OTHER_TREE`."""
        return self.trees.get(topics.STAND_INS.get(name, name), self.trees[topics.OTHER_TREE])

    def entries(self) -> tuple[Number, ...]:
        """Return all numbers with their labels and reasons, for a listing."""
        return tuple(self.table.values())

    def entry(self, key: str) -> Number | None:
        """Return a number; what a known tree has not of its own is that of `OTHER_TREE`."""
        topic, _, name = key.rpartition(".")
        if key not in self.table and topic.removeprefix("tree.") in self.trees:
            other = self.table.get(f"tree.{topics.OTHER_TREE}.{name}")
            return other and replace(other, key=key)
        return self.table.get(key)

    def override_faults(self, overrides: Mapping[str, float]) -> list[Fault]:
        """Return what is wrong with a grower's values: keys unknown, values out of range."""
        faults = []
        for key, value in overrides.items():
            place = f"yard.toml [numbers] '{key}'"
            entry = self.entry(key)
            if entry is None:
                near = get_close_matches(key, self.table, n=1)
                hint = f"The nearest known one is '{near[0]}'" if near else "None is near"
                faults.append(
                    Fault(
                        place,
                        "is not a number of the model",
                        f"{hint}; 'fruitcast check --numbers' lists them all.",
                    )
                )
            elif not entry.low <= value <= entry.high:
                problem = f"{value:g} is outside {entry.low:g} to {entry.high:g} {entry.unit}"
                faults.append(Fault(place, problem, "Give a value in that range."))
        return faults

    def with_overrides(self, overrides: Mapping[str, float]) -> Numbers:
        """Return the numbers with the grower's values in place of ours.

        Raises FaultsError if a key is unknown (the nearest known one is named) or a value out of
        range.
        """
        if not overrides:
            return self
        faults = self.override_faults(overrides)
        if faults:
            raise FaultsError(faults)
        table = dict(self.table)
        for key, value in overrides.items():
            entry = self.entry(key)
            assert entry is not None  # else it had been a fault
            table[key] = replace(entry, value=float(value), overridden=True)
        return numbers_from(table)


def numbers_from(table: Mapping[str, Number]) -> Numbers:
    """Return the numbers of a table, each under its name.

    Raises ValueError if a key has no name in the classes of `topics`, or a name no key, or a strain
    class lacks what sets it off.
    """
    left = {key: number.value for key, number in table.items()}
    trees = dict.fromkeys(key.split(".")[1] for key in table if key.startswith("tree."))
    others = {
        name: table.get(f"tree.{topics.OTHER_TREE}.{name}") for name in topics.TreeNumbers._fields
    }
    for tree in trees:
        for name, other in others.items():
            if other is not None:
                left.setdefault(f"tree.{tree}.{name}", other.value)
    numbers = Numbers(
        **{
            name: _read(hint, _part(name), left)
            for name, hint in _fields(Numbers).items()
            if name not in ("strains", "trees", "table")
        },
        strains={name: _read(topics.StrainNumbers, name, left) for name in topics.STRAIN_CLASSES},
        trees={name: _read(topics.TreeNumbers, f"tree.{name}", left) for name in sorted(trees)},
        table=dict(table),
    )
    for name, strain in numbers.strains.items():
        if (strain.natural.nights is None) == (strain.natural.drop is None):
            raise ValueError(f"numbers.toml {name}: has night_lower and night_upper, or drop")
    if left:
        raise ValueError(f"numbers.toml {next(iter(left))}: topics.py has no name for it")
    return numbers


def _read(kind: Any, prefix: str, left: dict[str, float]) -> Any:
    """Return one class of numbers, taking what it names out of those that are left."""
    found: dict[str, Any] = {}
    for name, what in _fields(kind).items():
        key = f"{prefix}.{_part(name)}"
        if what not in (float, float | None):
            found[name] = _read(what, key, left)
        elif key in left:
            found[name] = left.pop(key)
        elif name not in kind._field_defaults:
            raise ValueError(f"numbers.toml has no {key}, which topics.py names")
    return kind(**found)


@cache
def _fields(kind: Any) -> dict[str, Any]:
    """Return what a class names: worked out once, since pages often read numbers anew."""
    return get_type_hints(kind)


def _part(name: str) -> str:
    """Return the part of a key that a name stands for: 'yield' can't be a name in Python."""
    return "yield" if name == "yields" else name


@lru_cache(maxsize=1)
def default_numbers() -> Numbers:
    """Return the numbers as shipped."""
    text = Path(__file__).with_name("numbers.toml").read_text(encoding="utf-8")
    table: dict[str, Number] = {}
    for key, entry in _leaves("", tomllib.loads(text)):
        if entry["label"] not in LABELS:
            raise ValueError(f"numbers.toml {key}: label {entry['label']!r} is not one of {LABELS}")
        table[key] = Number(
            key=key,
            value=float(entry["value"]),
            unit=entry["unit"],
            label=entry["label"],
            why=entry["why"],
            low=float(entry["low"]),
            high=float(entry["high"]),
            find=entry.get("find", ""),
        )
    return numbers_from(table)


def _leaves(prefix: str, table: dict) -> Iterator[tuple[str, dict]]:
    for name, entry in table.items():
        key = f"{prefix}{name}"
        if "value" in entry:
            yield key, entry
        else:
            yield from _leaves(f"{key}.", entry)
