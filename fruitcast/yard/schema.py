"""The tables and keys of yard.toml: what each holds, its range and default, and an example.

The faults of single keys come from here; what several keys have to do with each other is
checked in `settings`.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time
from functools import cache, partial
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, InstanceOf

from fruitcast.numbers import default_numbers
from fruitcast.tables import values
from fruitcast.tables.values import MonthDay
from fruitcast.topics import SPAWN_FORMS, STRAIN_CLASSES, SpawnForm, StrainClass
from fruitcast.units import UNITS, Units
from fruitcast.yard.model import TANK_WATERS, TankWater


def _number(low: float, high: float, unit: str = "", **options: bool) -> BeforeValidator:
    return BeforeValidator(partial(values.number, low=low, high=high, unit=unit, **options))


def _count(low: int, high: int, unit: str) -> BeforeValidator:
    return BeforeValidator(partial(values.count, low=low, high=high, unit=unit))


def _one_of(known: tuple[str, ...]) -> BeforeValidator:
    return BeforeValidator(partial(values.choice, known=known))


def share_of(key: str) -> Callable[[object], float]:
    """Check a share against the range of the number that is its default."""

    def check(value: object) -> float:
        entry = default_numbers().table[key]
        return values.number(value, entry.low, entry.high, entry.unit, share=True)

    return check


def _keep_above(value: object) -> float | Literal[False]:
    if value is False:
        return False
    if value is True:
        raise values.WrongValueError(
            "true says not how moist", "Give a share like 0.35, or false when nobody waters."
        )
    return share_of("yard.keep_above")(value)


def _lot_logs(value: object) -> int | Literal["whole"]:
    if isinstance(value, str) and value.strip().lower() == "whole":
        return "whole"
    return values.count(value, 1, 100_000, "logs")


def _hours_a_day(value: object) -> float | tuple[float, ...]:
    if not isinstance(value, dict):
        return values.number(value, 0, 24, "hours", above=True)
    hours: dict[int | None, float] = {}
    for key, given in value.items():
        day = None if key.strip().casefold() == "other" else values.weekday(key)
        if day in hours:
            raise values.WrongValueError(f"{values.shown(key)} stands twice", "Name it once.")
        try:
            hours[day] = values.number(given, 0, 24, "hours")
        except values.WrongValueError as error:
            raise values.WrongValueError(f"{key}: {error.problem}", error.remedy) from None
    unsaid = [name for day, name in enumerate(values.WEEKDAYS) if day not in hours]
    if unsaid and None not in hours:
        raise values.WrongValueError(
            f"says nothing of {unsaid[0]}",
            "Name all seven days, or give the rest together: { Tue = 3, Fri = 2, other = 1 }.",
        )
    found = tuple(hours[day if day in hours else None] for day in range(7))
    if not any(found):
        raise values.WrongValueError("leaves no hour on any day", "Give the hours that you have.")
    return found


def _yes_or_no(value: object) -> bool:
    if not isinstance(value, bool):
        raise values.WrongValueError(
            f"{values.shown(value)} is neither true nor false", "Write true or false, unquoted."
        )
    return value


def _station(value: object) -> str:
    # Station numbers look like whole numbers, and TOML reads them as such.
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 99999:
        return f"{value:05d}"
    return values.name(value)


SHORTEST_REST = 49
"""Rest from soak day to soak day below which nobody is known to go: 7 weeks by common
practice. [day]"""

Name = Annotated[str, BeforeValidator(values.name)]
Kilograms = Annotated[float, _number(0, 10_000, "kg", above=True)]
Pounds = Annotated[float, _number(0, 20_000, "lb", above=True)]
WantedKilograms = Annotated[float, _number(0, 10_000, "kg")]
WantedPounds = Annotated[float, _number(0, 20_000, "lb")]
"""What an outlet wants each time; 0 pauses it."""
Price = Annotated[float, _number(0, 100_000)]
Weight = Annotated[float, _number(0, 100, above=True)]
Once = Annotated[date, BeforeValidator(values.day_once)]
EveryYear = Annotated[MonthDay, BeforeValidator(values.month_day)]
SeasonEnd = Annotated[date | MonthDay, BeforeValidator(values.season_end)]
Weekday = Annotated[int, BeforeValidator(values.weekday)]


def key(example: str, default: Any = ..., alias: str | None = None) -> Any:
    """One key: the line to write when it is missing, and its default."""
    return Field(default, examples=[example], alias=alias)


class SettingsTable(BaseModel):
    """One table of yard.toml. Keys are assigned one by one, so that each gets its own fault."""

    # A yard has a few of the tables; the others need not be made ready.
    model_config = ConfigDict(extra="forbid", validate_assignment=True, defer_build=True)


class TopTable(SettingsTable):
    """The keys above the first table."""

    name: Name = key('name = "Larkspur Hollow"')
    units: Annotated[Units, _one_of(UNITS)] = key('units = "us"')
    promise: Annotated[float, BeforeValidator(share_of("yard.promise"))] | None = key(
        "promise = 0.8", None
    )


class SiteTable(SettingsTable):
    """[site]."""

    latitude: Annotated[float, _number(-90, 90, "degrees, north positive")] = key("latitude = 42.6")
    longitude: Annotated[float, _number(-180, 180, "degrees, east positive")] = key(
        "longitude = -73.4"
    )
    elevation_m: Annotated[float, _number(-430, 6000, "m")] | None = key("elevation_m = 240", None)
    elevation_ft: Annotated[float, _number(-1410, 19_700, "ft")] | None = key(
        "elevation_ft = 790", None
    )
    timezone: Annotated[InstanceOf[ZoneInfo], BeforeValidator(values.zone)] = key(
        'timezone = "America/New_York"'
    )
    shade: Annotated[float, BeforeValidator(share_of("yard.shade"))] | None = key(
        "shade = 0.8", None
    )


class WeatherTable(SettingsTable):
    """[weather]."""

    file: Name | None = key('file = "weather.csv"', None)
    station: Annotated[str, BeforeValidator(_station)] | None = key('station = "nearest"', None)
    years: Annotated[int, _count(3, 200, "years")] = key("years = 30", 30)
    contact: Annotated[str, BeforeValidator(values.contact)] | None = key(
        'contact = "you@example.org"', None
    )


class SoakingTable(SettingsTable):
    """[soaking]."""

    days: Annotated[tuple[int, ...], BeforeValidator(values.weekdays)] = key(
        'days = ["Tue", "Fri"]'
    )
    tank_logs: Annotated[int, _count(1, 100_000, "logs")] = key("tank_logs = 60")
    lot_logs: Annotated[int | Literal["whole"], BeforeValidator(_lot_logs)] | None = key(
        "lot_logs = 12", None
    )
    start: Annotated[time, BeforeValidator(values.clock_time)] = key('start = "08:00"', time(8))
    first: EveryYear | None = key('first = "04-15"', None)
    last: EveryYear | None = key('last = "10-20"', None)
    hours_a_day: Annotated[float | tuple[float, ...], BeforeValidator(_hours_a_day)] | None = key(
        "hours_a_day = 3", None
    )
    rest_days: Annotated[int, _count(SHORTEST_REST, 200, "days")] | None = key(
        "rest_days = 63", None
    )
    water: Annotated[TankWater, _one_of(TANK_WATERS)] | None = key('water = "spring"', None)


class WateringTable(SettingsTable):
    """[watering]."""

    keep_above: Annotated[float | Literal[False], BeforeValidator(_keep_above)] | None = key(
        "keep_above = 0.35", None
    )


class ColdStoreTable(SettingsTable):
    """[cold_store]."""

    days: Annotated[int, _count(1, 28, "days")] | None = key("days = 10", None)


class FruitingTable(SettingsTable):
    """[fruiting]."""

    places: Annotated[int, _count(1, 100_000, "logs")] | None = key("places = 80", None)
    under_cover: Annotated[bool, BeforeValidator(_yes_or_no)] = key("under_cover = false", False)


class PickingTable(SettingsTable):
    """[picking]."""

    saleable: Annotated[float, BeforeValidator(share_of("yard.saleable"))] | None = key(
        "saleable = 0.85", None
    )


class OutletTable(SettingsTable):
    """[[outlet]]."""

    name: Name = key('name = "Saturday market"')
    day: Weekday = key('day = "Sat"')
    target_kg: WantedKilograms | None = key("target_kg = 6", None)
    target_lb: WantedPounds | None = key("target_lb = 14", None)
    first: SeasonEnd | None = key('from = "05-15"', None, alias="from")
    last: SeasonEnd | None = key('to = "10-30"', None, alias="to")
    price_per_kg: Price | None = key("price_per_kg = 30", None)
    price_per_lb: Price | None = key("price_per_lb = 14", None)
    weight: Weight = key("weight = 1", 1.0)


class OrderTable(SettingsTable):
    """[[order]]."""

    outlet: Name = key('outlet = "Wedding"')
    on: Once = key("on = 2027-06-19")
    target_kg: Kilograms | None = key("target_kg = 4", None)
    target_lb: Pounds | None = key("target_lb = 9", None)
    price_per_kg: Price | None = key("price_per_kg = 30", None)
    price_per_lb: Price | None = key("price_per_lb = 14", None)
    weight: Weight = key("weight = 1", 1.0)


class AwayTable(SettingsTable):
    """[[away]]."""

    first: SeasonEnd = key("from = 2027-07-04", alias="from")
    last: SeasonEnd = key("to = 2027-07-10", alias="to")


class ClosedTable(SettingsTable):
    """[[closed]]."""

    outlet: Name = key('outlet = "Saturday market"')
    on: Once = key("on = 2027-07-03")


class CostsTable(SettingsTable):
    """[costs]."""

    log: Price | None = key("log = 0", None)
    plug: Price | None = key("plug = 0", None)
    thimble: Price | None = key("thimble = 0", None)
    sawdust_per_kg: Price | None = key("sawdust_per_kg = 0", None)
    sawdust_per_lb: Price | None = key("sawdust_per_lb = 0", None)
    wax_per_kg: Price | None = key("wax_per_kg = 0", None)
    wax_per_lb: Price | None = key("wax_per_lb = 0", None)
    wage_per_hour: Price | None = key("wage_per_hour = 0", None)
    hours_per_kg: Annotated[float, _number(0, 100, "hours")] | None = key("hours_per_kg = 0", None)
    hours_per_lb: Annotated[float, _number(0, 50, "hours")] | None = key("hours_per_lb = 0", None)


class WoodTable(SettingsTable):
    """[[wood]]."""

    tree: Name = key('tree = "red oak"')
    diameter_cm: Annotated[float, _number(2, 100, "cm")] | None = key("diameter_cm = 13", None)
    diameter_in: Annotated[float, _number(0.8, 40, "in")] | None = key("diameter_in = 5", None)
    length_cm: Annotated[float, _number(10, 500, "cm")] | None = key("length_cm = 100", None)
    length_in: Annotated[float, _number(4, 200, "in")] | None = key("length_in = 40", None)
    logs_a_year: Annotated[int, _count(1, 100_000, "logs")] | None = key("logs_a_year = 80", None)
    log_cost: Price | None = key("log_cost = 0", None)
    spawn: Annotated[SpawnForm, _one_of(SPAWN_FORMS)] | None = key('spawn = "plug"', None)
    strain_class: Annotated[StrainClass, _one_of(STRAIN_CLASSES)] | None = key(
        'strain_class = "wide-range"', None
    )


SINGLE: dict[str, type[SettingsTable]] = {
    "site": SiteTable,
    "weather": WeatherTable,
    "soaking": SoakingTable,
    "watering": WateringTable,
    "cold_store": ColdStoreTable,
    "fruiting": FruitingTable,
    "picking": PickingTable,
    "costs": CostsTable,
}
"""Tables that stand once, by name."""

REPEATED: dict[str, type[SettingsTable]] = {
    "outlet": OutletTable,
    "order": OrderTable,
    "away": AwayTable,
    "closed": ClosedTable,
    "wood": WoodTable,
}
"""Tables that may stand several times, by name."""

NUMBERS = "numbers"
"""The table of overrides; its keys are those of the numbers of the model."""


@cache
def keys_of_table(table: type[SettingsTable]) -> dict[str, str]:
    """Return the keys of a table as the file writes them, each with its field's name."""
    return {field.alias or name: name for name, field in table.model_fields.items()}


def known_keys() -> tuple[tuple[str, str], ...]:
    """Return every table and key of yard.toml; the table is '' above the first one."""
    tables: dict[str, type[SettingsTable]] = {"": TopTable, **SINGLE, **REPEATED}
    return tuple((name, key) for name, table in tables.items() for key in keys_of_table(table))
