"""The tables of yard.toml against their schema, key by key, so that no fault hides another."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from pydantic import ValidationError

from fruitcast.tables.faults import FaultsFound
from fruitcast.tables.values import WrongValueError, nearest, shown
from fruitcast.yard.schema import (
    NUMBERS,
    REPEATED,
    SINGLE,
    AwayTable,
    ClosedTable,
    ColdStoreTable,
    CostsTable,
    FruitingTable,
    OrderTable,
    OutletTable,
    PickingTable,
    SettingsTable,
    SiteTable,
    SoakingTable,
    TopTable,
    WateringTable,
    WeatherTable,
    WoodTable,
    keys_of_table,
    known_keys,
)

FILE = "yard.toml"

NO_OUTLET = (
    f"this yard has no outlet yet. Write one into {FILE} under [[outlet]]: name, day, and "
    "target_kg or target_lb."
)
"""Said where an outlet is asked for by name."""

AnyTable = TypeVar("AnyTable", bound=SettingsTable)
Given = tuple[str, dict[str, object], AnyTable]
"""One repeated table: its place, the values as given, the table read."""


def parse_toml(text: str) -> dict[str, Any]:
    """Return the tables of a TOML text.

    Raises WrongValueError if it is not TOML, with the line.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line, what = _line_and_words(str(error), text)
        raise WrongValueError(
            f"line {line} can't be read: {what}",
            'Each line is key = value: texts in straight quotes ("Tue"), dates like 2027-05-15, '
            'days of every year in quotes ("04-15"), numbers with a point and without unit.',
        ) from None
    except (ValueError, RecursionError):
        # A number of thousands of digits, or tables nested hundreds deep.
        raise WrongValueError(
            "holds a value beyond all measure",
            "Start again from a fresh one: 'fruitcast new' writes it.",
        ) from None


def _line_and_words(message: str, text: str) -> tuple[int, str]:
    what, _, where = message.rpartition(" (at ")
    found = re.search(r"line (\d+)", where)
    line = int(found[1]) if found else text.count("\n") + 1
    content = text.split("\n")[line - 1] if line <= text.count("\n") + 1 else ""
    what = what[:1].lower() + what[1:]
    return line, f"{what}, in {shown(content)}" if content.strip() else what


@dataclass(frozen=True)
class YardTables:
    """All tables of the file, read key by key."""

    top: TopTable
    site: SiteTable
    weather: WeatherTable
    soaking: SoakingTable
    watering: WateringTable
    cold_store: ColdStoreTable
    fruiting: FruitingTable
    picking: PickingTable
    costs: CostsTable
    outlets: list[Given[OutletTable]]
    orders: list[Given[OrderTable]]
    away: list[Given[AwayTable]]
    closed: list[Given[ClosedTable]]
    woods: list[Given[WoodTable]]


def read_tables(raw: dict[str, object], findings: FaultsFound) -> YardTables:
    """Return all tables but [numbers], each key checked on its own."""
    if raw.get("watering") is False:
        raw = {**raw, "watering": {"keep_above": False}}
    top, file = _read_top(raw, findings), (raw, FILE, findings, known_keys())
    single: dict[str, Any] = {
        name: _read_single(table, name, raw, findings) for name, table in SINGLE.items()
    }
    return YardTables(
        top=top,
        **single,
        outlets=read_repeated(OutletTable, "outlet", *file),
        orders=read_repeated(OrderTable, "order", *file),
        away=read_repeated(AwayTable, "away", *file),
        closed=read_repeated(ClosedTable, "closed", *file),
        woods=read_repeated(WoodTable, "wood", *file),
    )


def _read_top(raw: dict[str, object], findings: FaultsFound) -> TopTable:
    """Return the keys above the first table, and note tables that aren't known."""
    tables = {*SINGLE, *REPEATED, NUMBERS}
    own = {key: value for key, value in raw.items() if key not in tables}
    for key, value in raw.items():
        is_table = isinstance(value, dict) or (
            isinstance(value, list) and bool(value) and isinstance(value[0], dict)
        )
        if key in own and key not in keys_of_table(TopTable) and is_table:
            del own[key]
            near = nearest(key, tables)
            hint = f"The nearest known one is [{near}]" if near else "It's not read"
            findings.fault(
                f"{FILE} [{bare(key)}]", "this table is not known", f"{hint}; correct or delete it."
            )
    return read_table(TopTable, "", own, FILE, findings)


def _read_single(
    table: type[AnyTable], name: str, raw: dict[str, object], findings: FaultsFound
) -> AnyTable:
    """Return a table that stands once; empty when it doesn't stand at all."""
    if name not in raw and misspelt(name, raw, (*SINGLE, *REPEATED, *keys_of_table(TopTable))):
        return table.model_construct()
    value = raw.get(name, {})
    place = f"{FILE} [{name}]"
    if isinstance(value, list) and value and all(isinstance(part, dict) for part in value):
        findings.fault(
            place, "stands in double brackets", f"There is one only: write [{name}], once."
        )
        value = value[0]
    elif not isinstance(value, dict):
        keys = ", ".join(keys_of_table(table))
        findings.fault(
            f"{FILE} {name}",
            f"{shown(value)} stands where a table is wanted",
            f"Write [{name}] on its own line, and below it its keys: {keys}.",
        )
        return table.model_construct()
    return read_table(table, name, value, place, findings)


def read_repeated(
    table: type[AnyTable],
    name: str,
    raw: dict[str, object],
    file: str,
    findings: FaultsFound,
    homes: Sequence[tuple[str, str]],
) -> list[Given[AnyTable]]:
    """Return the tables of one name: the place, the values as given, and the table read.

    `raw` are all tables of the file as given, `homes` every table and key of it, for a key that
    stands in the wrong one.
    """
    parts = raw.get(name, [])
    if isinstance(parts, dict):
        findings.fault(
            f"{file} [{name}]",
            "stands in single brackets",
            f"There may be several: write [[{name}]].",
        )
        parts = [parts]
    if not isinstance(parts, list) or not all(isinstance(part, dict) for part in parts):
        findings.fault(
            f"{file} {name}",
            f"{shown(parts)} stands where tables are wanted",
            f"Write [[{name}]] on its own line for each, and its keys below it.",
        )
        return []
    rows = []
    for index, part in enumerate(parts, start=1):
        labels = (part.get(key) for key in ("name", "outlet", "tree", "folder"))
        label = next((one for one in labels if one is not None), None)
        named = f" {shown(label)}" if isinstance(label, str) and label.strip() else ""
        place = f"{file} [[{name}]] {named.strip() or f'no. {index}'}"
        rows.append((place, part, read_table(table, name, part, place, findings, homes)))
    return rows


def read_table(
    table: type[AnyTable],
    name: str,
    raw: dict[str, object],
    place: str,
    findings: FaultsFound,
    homes: Sequence[tuple[str, str]] | None = None,
) -> AnyTable:
    """Return one table with every key that is right; the others are noted and left unset.

    Parameters are those of `read_repeated`; without `homes` the keys of yard.toml are known.
    """
    row = table.model_construct()
    fields = keys_of_table(table)
    for key, value in raw.items():
        if key not in fields:
            known = known_keys() if homes is None else homes
            _unknown_key(place, name, key, fields, findings, known)
            continue
        try:
            setattr(row, fields[key], value)
        except ValidationError as error:
            cause = error.errors()[0].get("ctx", {}).get("error")
            if not isinstance(cause, WrongValueError):
                raise
            findings.wrong(f"{place} {key}", cause)
    for key, field in fields.items():
        info = table.model_fields[field]
        if info.is_required() and key not in raw and not misspelt(key, raw, fields):
            example = info.examples[0] if info.examples else key
            findings.fault(place, f"{key} is missing", f"Add a line like: {example}")
    return row


def _unknown_key(
    place: str,
    table: str,
    key: str,
    known: dict[str, str],
    findings: FaultsFound,
    homes: Sequence[tuple[str, str]],
) -> None:
    """Note an unknown key with the likeliest remedy: another table, or another spelling."""
    elsewhere = [home for home, other in homes if other == key and home != table]
    if elsewhere:
        where = " and ".join(_table_in_words(home) for home in elsewhere)
        remedy = f"It is known {where}: move it there. Known here are: {', '.join(known)}."
    elif near := nearest(key, known):
        remedy = f"The nearest known one is '{near}'; correct it."
    else:
        remedy = f"Known here are: {', '.join(known)}."
    findings.fault(f"{place} {bare(key)}", "this key is not known here", remedy)


def misspelt(key: str, raw: Mapping[str, object], known: Iterable[str]) -> bool:
    """Whether a missing key most likely stands there under a wrong spelling."""
    known = tuple(known)
    return any(nearest(other, known) == key for other in raw if other not in known)


def bare(key: str) -> str:
    """Return a key as it is shown in a message."""
    return shown(key)[1:-1]


def _table_in_words(name: str) -> str:
    if not name:
        return "above the first table"
    return f"under [{name}]" if name in SINGLE else f"under [[{name}]]"
