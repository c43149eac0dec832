"""Reads yard.toml: each key by its schema, then what the keys have to do with each other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fruitcast.numbers import default_numbers
from fruitcast.tables.faults import Findings
from fruitcast.tables.values import WrongValueError
from fruitcast.topics import YardNumbers
from fruitcast.units import keys_of, si_from_key
from fruitcast.yard.keys import FILE, Given, YardTables, parse_toml, read_tables
from fruitcast.yard.model import (
    Away,
    Costs,
    FruitingPlaces,
    Order,
    Outlet,
    Site,
    Soaking,
    WeatherSource,
    Wood,
    Yard,
)
from fruitcast.yard.schema import NUMBERS, ClosedTable, CostsTable, OutletTable, Table, WoodTable
from fruitcast.yard.settings_checks import check_tables, read_overrides, set_field

WEATHER_FILE = "weather.csv"
"""Where the weather is looked for unless yard.toml says otherwise."""


REST_DAYS = "schedule.rest_days"
"""The number that the grower's own rest between soaks replaces."""


def parse_settings(text: str, folder: Path) -> tuple[Yard | None, Findings]:
    """Return the yard without its stacks, and all that was found on the way.

    Parameters
    ----------
    text : str
        The content of yard.toml.
    folder : Path
        The yard's folder; a weather file is looked for there.

    Returns
    -------
    Yard or None
        None when anything is at fault.
    Findings
        Every fault, and the warnings.
    """
    findings = Findings()
    try:
        raw = parse_toml(text)
    except WrongValueError as error:
        findings.wrong(FILE, error)
        return None, findings
    tables = read_tables(raw, findings)
    overrides = read_overrides(raw.get(NUMBERS, {}), findings)
    check_tables(raw, tables, findings)
    rest_days = set_field(tables.soaking, "rest_days")
    if rest_days is not None:
        _check_rest(overrides, rest_days, findings)
        overrides[REST_DAYS] = float(rest_days)
    if findings.faults:
        return None, findings
    numbers = default_numbers().with_overrides(overrides)
    return _build(tables, numbers.yard, overrides, folder, findings), findings


def _check_rest(overrides: dict[str, float], rest_days: int, findings: Findings) -> None:
    """Note a rest between soaks that is given twice and differs."""
    if overrides.get(REST_DAYS, rest_days) != rest_days:
        findings.fault(
            f"{FILE} [{NUMBERS}] '{REST_DAYS}'",
            f"says {overrides[REST_DAYS]:g} days, and rest_days in [soaking] says {rest_days}",
            "Keep one of them.",
        )


def _build(
    tables: YardTables,
    usual: YardNumbers,
    overrides: dict[str, float],
    folder: Path,
    findings: Findings,
) -> Yard:
    """Return the yard in SI units, its defaults filled in."""
    top, site, soaking = tables.top, tables.site, tables.soaking
    keep_above = _or_default(tables.watering.keep_above, usual.keep_above)
    station = tables.weather.station
    file = None if station else folder / (tables.weather.file or WEATHER_FILE)
    return Yard(
        folder=folder,
        name=top.name,
        units=top.units,
        site=Site(
            latitude=site.latitude,
            longitude=site.longitude,
            elevation=_si(site, "elevation") or 0.0,
            timezone=site.timezone,
            shade=_or_default(site.shade, usual.shade),
        ),
        weather=WeatherSource(
            file=file,
            station=station,
            years=tables.weather.years,
            contact=tables.weather.contact,
        ),
        soaking=Soaking(
            days=soaking.days,
            tank_logs=soaking.tank_logs,
            start=soaking.start,
            first=soaking.first,
            last=soaking.last,
            hours_a_day=soaking.hours_a_day,
            lot_logs=soaking.lot_logs,
            rest_days=soaking.rest_days,
            water=soaking.water,
        ),
        keep_above=None if keep_above is False else keep_above,
        cold_store_days=int(_or_default(tables.cold_store.days, usual.cold_store_days)),
        saleable=_or_default(tables.picking.saleable, usual.saleable),
        promise=_or_default(top.promise, usual.promise),
        outlets=tuple(_outlet(row, tables.closed) for _, _, row in tables.outlets),
        orders=tuple(
            Order(row.outlet, row.on, _si(row, "target") or 0.0, _si(row, "price"), row.weight)
            for _, _, row in tables.orders
        ),
        away=tuple(Away(row.first, row.last) for _, _, row in tables.away),
        stacks=(),
        costs=_costs(tables.costs),
        woods=tuple(_wood(row) for _, _, row in tables.woods),
        numbers=overrides,
        warnings=tuple(findings.warnings),
        fruiting=FruitingPlaces(tables.fruiting.places, tables.fruiting.under_cover),
    )


def _outlet(row: OutletTable, closed: list[Given[ClosedTable]]) -> Outlet:
    return Outlet(
        name=row.name,
        weekday=row.day,
        target_kg=_si(row, "target") or 0.0,
        first=row.first,
        last=row.last,
        price_per_kg=_si(row, "price"),
        weight=row.weight,
        closed=frozenset(
            shut.on for _, _, shut in closed if shut.outlet.casefold() == row.name.casefold()
        ),
    )


def _costs(row: CostsTable) -> Costs:
    return Costs(
        log=row.log,
        plug=row.plug,
        thimble=row.thimble,
        sawdust=_si(row, "sawdust"),
        wax=_si(row, "wax"),
        wage=row.wage_per_hour,
        hours_per_kg=_si(row, "hours"),
    )


def _wood(row: WoodTable) -> Wood:
    return Wood(
        tree=row.tree.lower(),
        diameter=_si(row, "diameter") or 0.0,
        length=_si(row, "length") or 0.0,
        logs_a_year=row.logs_a_year,
        log_cost=row.log_cost,
        spawn=row.spawn,
        strain_class=row.strain_class,
    )


def _si(row: Table, quantity: str) -> float | None:
    """Return a quantity in SI units, under whichever key it was given."""
    for key in keys_of(quantity):
        value = set_field(row, key)
        if value is not None:
            return si_from_key(key, value)
    return None


def _or_default(value: Any, default: float) -> Any:
    return default if value is None else value
