"""Reads group.toml: the yards of a group, and the outlets that they sell to together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator

from fruitcast.errors import FaultsError, InputError
from fruitcast.numbers import default_numbers
from fruitcast.tables import values
from fruitcast.tables.faults import FaultsFound
from fruitcast.tables.text import read_text
from fruitcast.tables.values import WrongValueError, nearest, shown
from fruitcast.units import UNITS, Units
from fruitcast.yard import keys
from fruitcast.yard.model import Order, Outlet
from fruitcast.yard.schema import (
    ClosedTable,
    Kilograms,
    Name,
    Once,
    Pounds,
    SeasonEnd,
    SettingsTable,
    WantedKilograms,
    WantedPounds,
    Weekday,
    key,
    keys_of_table,
    share_of,
)
from fruitcast.yard.settings import check_sales, outlet_of, set_field, si_of

FILE = "group.toml"

OUT = "out"
"""The folder of a group in which its round is written; no yard."""


class GroupTable(SettingsTable):
    """The keys above the first table."""

    name: Name | None = key('name = "Valley growers"', None)
    units: Annotated[Units, BeforeValidator(partial(values.choice, known=UNITS))] | None = key(
        'units = "us"', None
    )
    promise: Annotated[float, BeforeValidator(share_of("yard.promise"))] | None = key(
        "promise = 0.8", None
    )


class MemberTable(SettingsTable):
    """[[yard]]."""

    folder: Name = key('folder = "larkspur"')


class SharedOutletTable(SettingsTable):
    """[[outlet]]."""

    name: Name = key('name = "Mill restaurant"')
    day: Weekday = key('day = "Thu"')
    target_kg: WantedKilograms | None = key("target_kg = 8", None)
    target_lb: WantedPounds | None = key("target_lb = 18", None)
    first: SeasonEnd | None = key('from = "05-15"', None, alias="from")
    last: SeasonEnd | None = key('to = "10-30"', None, alias="to")


class SharedOrderTable(SettingsTable):
    """[[order]]."""

    outlet: Name = key('outlet = "Harvest supper"')
    on: Once = key("on = 2027-09-18")
    target_kg: Kilograms | None = key("target_kg = 14", None)
    target_lb: Pounds | None = key("target_lb = 30", None)


REPEATED: dict[str, type[SettingsTable]] = {
    "yard": MemberTable,
    "outlet": SharedOutletTable,
    "order": SharedOrderTable,
    "closed": ClosedTable,
}
"""The tables of group.toml, by name; each may stand several times."""


@dataclass(frozen=True)
class Group:
    """Yards that are looked at together."""

    folder: Path  # where they are found
    name: str  # what they call themselves; else the folder's name
    units: Units | None  # what people see; None: as the first of the yards
    promise: float  # the chance asked of what is promised together [0..1]
    yards: tuple[Path, ...]  # their folders, in order
    outlets: tuple[Outlet, ...] = ()  # nothing where each sells for itself
    orders: tuple[Order, ...] = ()

    @property
    def sells_together(self) -> bool:
        """Whether anything is sold together."""
        return bool(self.outlets or self.orders)


def read_group(folder: Path) -> Group:
    """Return the group in a folder: of its group.toml, else of all yards in the folder.

    Raises InputError if there is no such folder, or no yard; FaultsError if anything in group.toml
    is wrong: all faults.
    """
    folder = folder.expanduser().absolute()
    if not folder.is_dir():
        what = "is a file" if folder.exists() else "there is no such folder"
        raise InputError(f"{folder}: {what}. Give the folder in which the yards' folders are.")
    group = Group(folder, folder.name, None, default_numbers().yard.promise, _yards_in(folder))
    if (folder / FILE).is_file():
        findings = FaultsFound()
        try:
            found = _parse(read_text(folder / FILE), group, findings)
        except WrongValueError as error:
            findings.wrong(FILE, error)
            found = group
        if findings.faults:
            raise FaultsError(findings.faults)
        group = found
    if not group.yards:
        raise InputError(
            f"{folder}: no folder in it is a yard, with its {keys.FILE}. Give the folder in "
            f"which the yards' folders are, or name them in {FILE}."
        )
    return group


def _yards_in(folder: Path) -> tuple[Path, ...]:
    found = (path for path in folder.iterdir() if path.name != OUT)
    return tuple(sorted(path for path in found if (path / keys.FILE).is_file()))


def _parse(text: str, usual: Group, findings: FaultsFound) -> Group:
    """Return the group of a file's text; what is wrong is noted."""
    raw = keys.parse_toml(text)
    homes = [("", key) for key in keys_of_table(GroupTable)]
    homes += [(name, key) for name, table in REPEATED.items() for key in keys_of_table(table)]
    own = {}
    for name, value in raw.items():
        if name in REPEATED:
            continue
        own[name] = value
        table = isinstance(value, dict) or (isinstance(value, list) and value[:1] != [])
        if table and name not in keys_of_table(GroupTable):
            del own[name]
            near = nearest(name, REPEATED)
            hint = f"The nearest known one is [[{near}]]" if near else "It's not read"
            findings.fault(
                f"{FILE} [{keys.bare(name)}]",
                "this table is not known",
                f"{hint}; correct or delete it.",
            )
    top = keys.read_table(GroupTable, "", own, FILE, findings, homes)

    def rows(name: str, table: type[keys.AnyTable]) -> list[keys.Given[keys.AnyTable]]:
        return keys.read_repeated(table, name, raw, FILE, findings, homes)

    members, outlets = rows("yard", MemberTable), rows("outlet", SharedOutletTable)
    orders, closed = rows("order", SharedOrderTable), rows("closed", ClosedTable)
    check_sales(outlets, orders, closed, findings)
    yards = _members(members, usual.folder, findings) if members else usual.yards
    if findings.faults:
        return usual
    return replace(
        usual,
        name=top.name or usual.name,
        units=top.units,
        promise=usual.promise if top.promise is None else top.promise,
        yards=yards,
        outlets=tuple(outlet_of(row, closed) for _, _, row in outlets),
        orders=tuple(
            Order(row.outlet, row.on, si_of(row, "target") or 0.0, None, 1.0)
            for _, _, row in orders
        ),
    )


def _members(
    rows: list[keys.Given[MemberTable]], folder: Path, findings: FaultsFound
) -> tuple[Path, ...]:
    found: dict[str, Path] = {}
    for place, _, row in rows:
        given = set_field(row, "folder")
        if given is None:
            continue
        path = folder / Path(given).expanduser()
        if path.name in found:
            findings.fault(
                f"{place} folder",
                f"another yard's folder is called {shown(path.name)}",
                "Each yard goes by its folder's name: name one of them otherwise.",
            )
        found[path.name] = path
    return tuple(found.values())
