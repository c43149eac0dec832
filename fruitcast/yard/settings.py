"""Reads yard.toml: each key by its schema, then what the keys have to do with each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fruitcast.numbers import DROPPED, default_numbers
from fruitcast.tables.faults import FaultsFound
from fruitcast.tables.values import WEEKDAYS, MonthDay, WrongValueError, nearest, number, shown
from fruitcast.topics import YardNumbers
from fruitcast.units import keys_of, si_from_key
from fruitcast.yard.keys import FILE, Given, YardTables, bare, misspelt, parse_toml, read_tables
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
from fruitcast.yard.schema import (
    NUMBERS,
    ClosedTable,
    CostsTable,
    SettingsTable,
    SiteTable,
    WoodTable,
    keys_of_table,
)
from fruitcast.yard.stacks import tree_fault

# What the keys of yard.toml have to do with each other; each check notes what it finds.

FARTHEST_FROM_ZONE = 60.0
"""A site farther than this from its time zone's meridian is doubted. [degree]"""


def check_tables(raw: Mapping[str, object], tables: YardTables, findings: FaultsFound) -> None:
    """Note every fault that lies between keys: of the tables as given, and as read key by key."""
    _check_site(raw.get("site", {}), tables.site, findings)
    if set_field(tables.weather, "file") and set_field(tables.weather, "station"):
        findings.fault(
            f"{FILE} [weather]",
            "names a file and a station",
            "Keep one of them: the weather comes from one place.",
        )
    check_sales(tables.outlets, tables.orders, tables.closed, findings)
    for place, _, away in tables.away:
        _check_span(place, away, findings)
    for quantity in ("sawdust", "wax", "hours"):
        _check_one_unit(f"{FILE} [costs]", raw.get("costs", {}), tables.costs, quantity, findings)
    _check_woods(tables, findings)


def set_field(row: SettingsTable, field: str) -> Any:
    """Return a field of a table, None when it is missing or was refused."""
    return getattr(row, field, None)


def read_overrides(raw: object, findings: FaultsFound) -> dict[str, float]:
    """Return the grower's numbers by dotted key; tables within tables are spelt out."""
    if not isinstance(raw, dict):
        findings.fault(
            f"{FILE} {NUMBERS}",
            f"{shown(raw)} stands where a table is wanted",
            f"Write [{NUMBERS}] on its own line, and the numbers below it.",
        )
        return {}
    overrides: dict[str, float] = {}
    gone: list[str] = []
    for key, value in _leaves("", raw):
        place = f"{FILE} [{NUMBERS}] '{bare(key)}'"
        if key in DROPPED:
            gone.append(f"'{bare(key)}'")
            continue
        try:
            overrides[key] = number(value, float("-inf"), float("inf"), "")
        except WrongValueError as error:
            findings.fault(place, error.problem, "Give a number, without quotes or unit.")
    if gone:
        has, line = ("have", "lines") if len(gone) > 1 else ("has", "line")
        findings.warn(
            f"{FILE} [{NUMBERS}]",
            f"{', '.join(gone)} {has} no effect any more: the model does without. "
            f"Take the {line} out.",
        )
    findings.faults.extend(default_numbers().override_faults(overrides))
    return overrides


def _leaves(prefix: str, table: Mapping[str, object]) -> Iterator[tuple[str, object]]:
    for name, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(f"{prefix}{name}.", value)
        else:
            yield f"{prefix}{name}", value


def _check_one_unit(
    place: str,
    raw: object,
    table: SettingsTable,
    quantity: str,
    findings: FaultsFound,
    *,
    required: bool = False,
) -> None:
    """Note a quantity given in two units, or not at all."""
    keys = keys_of(quantity)
    raw = raw if isinstance(raw, dict) else {}
    given = [key for key in keys if key in raw]
    if len(given) > 1:
        findings.fault(place, f"gives both {' and '.join(given)}", "Keep one of them.")
    known = keys_of_table(type(table))
    if required and not given and not any(misspelt(key, raw, known) for key in keys):
        findings.fault(place, f"has no {quantity}", f"Add {' or '.join(keys)}.")


def _check_site(raw: object, site: SiteTable, findings: FaultsFound) -> None:
    place = f"{FILE} [site]"
    _check_one_unit(place, raw, site, "elevation", findings)
    if isinstance(raw, dict) and not {"elevation_m", "elevation_ft"} & set(raw):
        findings.warn(
            place,
            "no elevation is given; 0 m is taken. Add elevation_m or elevation_ft, so that "
            "stations are judged by their height too.",
        )
    longitude, zone = set_field(site, "longitude"), set_field(site, "timezone")
    if longitude is not None and zone is not None:
        meridian = _meridian(zone)
        apart = abs((longitude - meridian + 180) % 360 - 180)
        if apart > FARTHEST_FROM_ZONE:
            findings.warn(
                place,
                f"longitude {longitude:g} lies far from the time zone {zone.key}. East is "
                "positive, west (all of America) negative: check the sign.",
            )


def _meridian(zone: ZoneInfo) -> float:
    """Longitude whose sun keeps the zone's standard time. [degree, east positive]"""
    # Of January and July the smaller offset is standard time, north and south.
    noons = (datetime(2026, month, 1, 12, tzinfo=UTC).astimezone(zone) for month in (1, 7))
    offsets = [noon.utcoffset() for noon in noons]
    return 15 * min(offset.total_seconds() / 3600 for offset in offsets if offset is not None)


def check_sales(
    outlets: Sequence[Given[Any]],
    orders: Sequence[Given[Any]],
    closed: Sequence[Given[Any]],
    findings: FaultsFound,
) -> None:
    """Check targets, prices, names and days of outlets and orders, and the days they are shut.

    The rows are those of yard.toml, or of a group's, which have fewer keys.
    """
    for place, raw, row in [*outlets, *orders]:
        _check_one_unit(place, raw, row, "target", findings, required=True)
        _check_one_unit(place, raw, row, "price", findings)
    seen: set[str] = set()
    for place, _, outlet in outlets:
        _check_span(place, outlet, findings)
        name = set_field(outlet, "name")
        if name is None:
            continue
        if name.casefold() in seen:
            findings.fault(
                place,
                "another outlet has this name",
                "Give each its own: with the day in the name, when one place sells on two days.",
            )
        seen.add(name.casefold())
    _check_orders(outlets, orders, findings)
    _check_closed(outlets, closed, findings)


def _check_orders(
    outlets: Sequence[Given[Any]], orders: Sequence[Given[Any]], findings: FaultsFound
) -> None:
    """Note orders that can't be told from another sale of the same day."""
    regular = {
        name.casefold(): set_field(outlet, "day")
        for _, _, outlet in outlets
        if (name := set_field(outlet, "name")) is not None
    }
    seen: set[tuple[str, date]] = set()
    for place, _, order in orders:
        name, on = set_field(order, "outlet"), set_field(order, "on")
        if name is None or on is None:
            continue
        key = (name.casefold(), on)
        if key in seen or regular.get(name.casefold()) == on.weekday():
            findings.fault(
                place,
                f"another sale has this name on {on}",
                "Give the order a name of its own, or add its weight to the other target.",
            )
        seen.add(key)


def _check_span(place: str, row: SettingsTable, findings: FaultsFound) -> None:
    """Note a span that ends before it begins, or mixes one year with every year."""
    first, last = set_field(row, "first"), set_field(row, "last")
    if first is None or last is None:
        return
    if isinstance(first, date) != isinstance(last, date):
        findings.fault(
            place,
            f"from {_in_words(first)} to {_in_words(last)} mixes one year with every year",
            'Write both as dates (2027-05-15), or both as days of every year ("05-15").',
        )
    elif isinstance(first, date) and first > last:
        findings.fault(
            place, f"from {first} lies after the last day, {last}", "Exchange or correct them."
        )


def _in_words(day: date | MonthDay) -> str:
    return str(day) if isinstance(day, date) else f'"{day[0]:02}-{day[1]:02}"'


def _check_closed(
    outlets: Sequence[Given[Any]], closed: Sequence[Given[Any]], findings: FaultsFound
) -> None:
    """Note closed days of outlets that aren't there, and of days they don't open anyway."""
    named = {
        name.casefold(): outlet
        for _, _, outlet in outlets
        if (name := set_field(outlet, "name")) is not None
    }
    for place, _, shut in closed:
        name, on = set_field(shut, "outlet"), set_field(shut, "on")
        if name is None:
            continue
        outlet = named.get(name.casefold())
        if outlet is None:
            known = [set_field(row, "name") for _, _, row in outlets if set_field(row, "name")]
            near = nearest(name, known)
            hint = f"Did you mean '{near}'? " if near else ""
            findings.fault(
                f"{place} outlet",
                f"no [[outlet]] is called {shown(name)}",
                f"{hint}Outlets here: {', '.join(known) or 'none'}.",
            )
        elif on is not None and set_field(outlet, "day") not in (None, on.weekday()):
            findings.warn(
                place,
                f"{on} is a {WEEKDAYS[on.weekday()]}; this outlet sells on "
                f"{WEEKDAYS[outlet.day]}s, so closing it changes nothing.",
            )


def _check_woods(tables: YardTables, findings: FaultsFound) -> None:
    """Check sizes and trees of the logs to be had."""
    trees = default_numbers().trees
    for place, raw, wood in tables.woods:
        for size in ("diameter", "length"):
            _check_one_unit(place, raw, wood, size, findings, required=True)
        tree = set_field(wood, "tree")
        if tree is not None and (fault := tree_fault(tree.lower(), trees)):
            findings.fault(place, *fault)


WEATHER_FILE = "weather.csv"
"""Where the weather is looked for unless yard.toml says otherwise."""


REST_DAYS = "schedule.rest_days"
"""The number that the grower's own rest between soaks replaces."""


def parse_settings(text: str, folder: Path) -> tuple[Yard | None, FaultsFound]:
    """Return the yard without its stacks, None when anything is at fault, and all that was found.

    A weather file is looked for in the folder.
    """
    findings = FaultsFound()
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


def _check_rest(overrides: dict[str, float], rest_days: int, findings: FaultsFound) -> None:
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
    findings: FaultsFound,
) -> Yard:
    """Return the yard in SI units, its defaults filled in."""
    top, site = tables.top, tables.site
    keep_above = _or_default(tables.watering.keep_above, usual.keep_above)
    file = None if tables.weather.station else folder / (tables.weather.file or WEATHER_FILE)
    return Yard(
        folder=folder,
        name=top.name,
        units=top.units,
        site=Site(
            latitude=site.latitude,
            longitude=site.longitude,
            elevation=si_of(site, "elevation") or 0.0,
            timezone=site.timezone,
            shade=_or_default(site.shade, usual.shade),
        ),
        # These tables and classes have the same fields.
        weather=WeatherSource(**dict(tables.weather) | {"file": file}),
        soaking=Soaking(**dict(tables.soaking)),
        fruiting=FruitingPlaces(**dict(tables.fruiting)),
        keep_above=None if keep_above is False else keep_above,
        cold_store_days=int(_or_default(tables.cold_store.days, usual.cold_store_days)),
        saleable=_or_default(tables.picking.saleable, usual.saleable),
        promise=_or_default(top.promise, usual.promise),
        outlets=tuple(outlet_of(row, tables.closed) for _, _, row in tables.outlets),
        orders=tuple(
            Order(row.outlet, row.on, si_of(row, "target") or 0.0, si_of(row, "price"), row.weight)
            for _, _, row in tables.orders
        ),
        away=tuple(Away(row.first, row.last) for _, _, row in tables.away),
        stacks=(),
        costs=_costs(tables.costs),
        woods=tuple(_wood(row) for _, _, row in tables.woods),
        numbers=overrides,
        warnings=tuple(findings.warnings),
    )


def outlet_of(row: Any, closed: list[Given[ClosedTable]]) -> Outlet:
    """Return an outlet of a yard's or a group's table, which has neither price nor weight."""
    return Outlet(
        name=row.name,
        weekday=row.day,
        target_kg=si_of(row, "target") or 0.0,
        first=row.first,
        last=row.last,
        price_per_kg=si_of(row, "price"),
        weight=_or_default(set_field(row, "weight"), 1.0),
        closed=frozenset(
            shut.on for _, _, shut in closed if shut.outlet.casefold() == row.name.casefold()
        ),
    )


def _costs(row: CostsTable) -> Costs:
    return Costs(
        log=row.log,
        plug=row.plug,
        thimble=row.thimble,
        sawdust=si_of(row, "sawdust"),
        wax=si_of(row, "wax"),
        wage=row.wage_per_hour,
        hours_per_kg=si_of(row, "hours"),
    )


def _wood(row: WoodTable) -> Wood:
    return Wood(
        tree=row.tree.lower(),
        diameter=si_of(row, "diameter") or 0.0,
        length=si_of(row, "length") or 0.0,
        logs_a_year=row.logs_a_year,
        log_cost=row.log_cost,
        spawn=row.spawn,
        strain_class=row.strain_class,
    )


def si_of(row: SettingsTable, quantity: str) -> float | None:
    """Return a quantity in SI units, under whichever key it was given."""
    for key in keys_of(quantity):
        value = set_field(row, key)
        if value is not None:
            return si_from_key(key, value)
    return None


def _or_default(value: Any, default: float) -> Any:
    return default if value is None else value
