"""The biological and horticultural numbers, each with unit, label and source.

All of them stand in `numbers.toml` beside this module. A number is looked up by its
dotted key, for instance ``numbers["forced.rest_days"]``, or for one strain class
``numbers.of("wide-range", "forced.base_temperature")``. A grower may override any of
them from the yard's settings.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cached_property, lru_cache
from pathlib import Path

from fruitcast.errors import Fault, FaultsError

LABELS = ("published", "common practice", "judgement", "memory")


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
    """

    key: str
    value: float
    unit: str
    label: str
    why: str
    low: float
    high: float
    overridden: bool = False


class Numbers(Mapping[str, float]):
    """A read-only table of numbers: key to value."""

    def __init__(self, entries: Mapping[str, Number]) -> None:
        self._entries = dict(entries)

    def __getitem__(self, key: str) -> float:
        return self._entries[key].value

    def __iter__(self) -> Iterator[str]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    def of(self, strain_class: str, key: str) -> float:
        """Return the number `key` of one strain class."""
        return self._entries[f"{strain_class}.{key}"].value

    def of_tree(self, tree: str, key: str) -> float:
        """Return the number `key` of a tree species, or of 'other hardwood' when unknown."""
        entry = self._entries.get(f"tree.{tree}.{key}")
        return (entry or self._entries[f"tree.other hardwood.{key}"]).value

    @cached_property
    def trees(self) -> tuple[str, ...]:
        """Names of the tree species with numbers of their own."""
        return tuple(sorted({key.split(".")[1] for key in self if key.startswith("tree.")}))

    def entry(self, key: str) -> Number:
        """Return one number with its label, reason and range."""
        return self._entries[key]

    def entries(self) -> tuple[Number, ...]:
        """Return all numbers with their labels and reasons, for a listing."""
        return tuple(self._entries.values())

    def override_faults(self, overrides: Mapping[str, float]) -> list[Fault]:
        """Return what is wrong with a grower's values: keys unknown, values out of range."""
        faults = []
        for key, value in overrides.items():
            place = f"yard.toml [numbers] '{key}'"
            entry = self._entries.get(key)
            if entry is None:
                near = get_close_matches(key, self._entries, n=1)
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
        """Return a table in which the grower's values replace ours.

        Raises
        ------
        FaultsError
            If a key is unknown (the nearest known one is named) or a value out of range.
        """
        faults = self.override_faults(overrides)
        if faults:
            raise FaultsError(faults)
        entries = dict(self._entries)
        for key, value in overrides.items():
            entries[key] = replace(entries[key], value=float(value), overridden=True)
        return Numbers(entries)


@lru_cache(maxsize=1)
def default_numbers() -> Numbers:
    """Return the numbers as shipped."""
    text = Path(__file__).with_name("numbers.toml").read_text(encoding="utf-8")
    entries: dict[str, Number] = {}
    for key, entry in _leaves("", tomllib.loads(text)):
        if entry["label"] not in LABELS:
            raise ValueError(f"numbers.toml {key}: label {entry['label']!r} is not one of {LABELS}")
        entries[key] = Number(
            key=key,
            value=float(entry["value"]),
            unit=entry["unit"],
            label=entry["label"],
            why=entry["why"],
            low=float(entry["low"]),
            high=float(entry["high"]),
        )
    return Numbers(entries)


def _leaves(prefix: str, table: dict) -> Iterator[tuple[str, dict]]:
    for name, entry in table.items():
        key = f"{prefix}{name}"
        if "value" in entry:
            yield key, entry
        else:
            yield from _leaves(f"{key}.", entry)
