"""A new yard: a commented yard.toml and a stacks.csv with example rows, ready to be changed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from fruitcast.atomic import write_all_atomically
from fruitcast.errors import FaultsError, InputError
from fruitcast.numbers import default_numbers
from fruitcast.units import M_PER_FT, UNIT_OF_SIZE, Units
from fruitcast.yard import keys, stacks
from fruitcast.yard.settings import WEATHER_FILE, parse_settings

_SETTINGS = """\
# The settings of this yard.
# Lines that begin with '#' are notes. A line like '#years = 30' shows a setting with its
# default or an example: take the '#' away to use it. 'fruitcast check' finds every slip.
# Weights may be in kg or lb, sizes in cm or in, heights in m or ft: the key says which.

name = {name}
# What you see: "us" (lb, in, F) or "metric" (kg, cm, C).
units = "{units}"
{promise_lines}[site]
# Degrees with decimals; north and east are positive, so all of America has a negative longitude.
latitude = {latitude}
longitude = {longitude}
# Height above the sea; elevation_m in metres or elevation_ft in feet.
{elevation}
timezone = {timezone}
# Share of the open sky's light that is kept off the logs.
shade = {shade}

[weather]
# A daily table in this folder (date,tmin,tmax,rain in C and mm; other forms: see the README),
# or a station by its number, or "nearest". One of the two.
{weather}
# How many past years stand for what the coming weeks may bring.
#years = 30
# Your e-mail address or web page. With a station that has no forecast, one is then asked for at
# these coordinates from MET Norway, who want to know who asks. Without it: no such forecast.
#contact = "you@example.org"

[soaking]
# Days of the week on which you can put logs into the tank.
days = [{days}]
# Logs that fit the tank at one time. A larger stack is soaked in lots.
tank_logs = {tank_logs}
# A whole stack's flush may be more than {too_much}; lots, soaked one after the
# other, bring a steadier supply. Without this line 'fruitcast lots' proposes some, to be accepted
# once; a number parts every stack into lots of at most so many logs, "whole" keeps them whole.
# The lots of stack A are called A/1, A/2 and so on.
#lot_logs = {lot_logs}
# When logs go in and come out.
#start = "08:00"
# First and last day of the year for soaking, month and day. Without them: all year.
#first = "{soak_first}"
#last = "{soak_last}"
# Hours of work a day for soaking and pulling logs. Without it: no limit. They may differ by day of
# the week: hours_a_day = {{ Tue = 3, Fri = 2, other = 1 }}
#hours_a_day = 3
# Days from one soak of a stack to its next, 49 or more. Shorter rests bring more but smaller
# flushes; the plan says how much smaller.
#rest_days = {rest_days}
# Where the tank's water comes from: spring, well, mains or pond. Cold water wakes the logs.
#water = "spring"

[watering]
# Logs are watered before they are drier than this (share of the wet weight that is water).
# false: nobody waters.
#keep_above = {keep_above}

[cold_store]
# Days that picked mushrooms keep.
#days = {cold_store_days}

[fruiting]
# Logs that can stand at one time where they fruit, from the pull to the last pick. Without it: no
# limit. A larger stack is soaked in lots.
#places = 80
# true where a roof keeps the rain off them: wet caps keep badly.
#under_cover = false

{outlet_lines}# Days on which nobody soaks, pulls or picks; both ends included.
#[[away]]
#from = {away_from}
#to = {away_to}

{cost_lines}# Your own value for any number of the model; 'fruitcast check --numbers' lists them,
# with our values and reasons.
#[numbers]
#"work.soak_hours_per_log" = 0.05
"""

_PROMISE = """\
# The chance with which a promise to an outlet should hold: 0.8 is four times in five.
#promise = {promise}

"""
_OUTLETS = """\
[picking]
# Share of the crop you can sell; slugs, rain and broken caps take the rest.
#saleable = {saleable}

# One [[outlet]] for each regular sale.
[[outlet]]
name = "Saturday market"
day = "Sat"
# What it takes each time: target_lb or target_kg; 0 while it is paused.
target_{w} = {target}
# Its season: dates like 2027-05-15, or "05-15" for every year. Without it: all year.
{season}
# Your price, in your money (price_per_lb or price_per_kg).
#price_per_{w} = {price}
# How much being short here counts against being short elsewhere.
#weight = 1

# A single sale on one date: as above, but with a date.
#[[order]]
#outlet = "Wedding"
#on = {order_on}
#target_{w} = {order}
#price_per_{w} = {price}
#weight = 1

"""
_COSTS = """\
# A day on which an outlet doesn't open.
#[[closed]]
#outlet = "Saturday market"
#on = {closed_on}

# What you pay, in your own money: put your amounts in the place of the noughts. Used to tell what
# a log costs and earns; what is left out counts nothing, and that is said.
#[costs]
# A log, felled and brought home.
#log = 0
# A plug or thimble of spawn; sawdust spawn and wax by weight (sawdust_per_kg or sawdust_per_lb,
# wax_per_kg or wax_per_lb).
#plug = 0
#thimble = 0
#sawdust_per_{w} = 0
#wax_per_{w} = 0
# An hour of work, and the hours of picking, packing and selling (hours_per_kg or hours_per_lb).
#wage_per_hour = 0
#hours_per_{w} = 0

# Logs you can get, for 'fruitcast inoculation'. Without any: the trees and sizes of your stacks.
#[[wood]]
#tree = "red oak"
# Over bark: diameter_cm or diameter_in, length_cm or length_in.
#diameter_{s} = {thick}
#length_{s} = {long}
# Most logs of it a year, and what one costs where that differs from the above.
#logs_a_year = 80
#log_cost = 0
# Only for one form of spawn, or one class of strains.
#spawn = "plug"
#strain_class = "wide-range"

"""
_SELLING = {
    "promise_lines": (_PROMISE, "\n"),
    "outlet_lines": (_OUTLETS, ""),
    "cost_lines": (_COSTS, ""),
    "too_much": ("your market days take", "you eat in a week"),
    "lot_logs": ("12", "6"),
}
"""What differs in the settings of a yard that sells, and of one that doesn't."""

_SHOWN = {
    "us": {"w": "lb", "s": "in", "target": 2, "order": 3, "price": 14, "thick": 5, "long": 40},
    "metric": {
        "w": "kg",
        "s": "cm",
        "target": 1,
        "order": 1.5,
        "price": 30,
        "thick": 13,
        "long": 100,
    },
}
"""Units of weight and size in the names of keys, and examples in them."""

_SEASONS = {"north": ("05-15", "10-30"), "south": ("11-15", "04-30")}
"""A season to start from, when logs bear in the open: from spring to the first frosts."""
_SOAKED = {"north": ("04-15", "10-20"), "south": ("10-15", "04-20")}
"""Example of a season of soaking: when soaked logs bear before they freeze."""
_INOCULATED = {"north": (3, 20), "south": (9, 20)}
"""Month and day of the example stacks' inoculation: early spring."""
_TROPIC = 23.4
_STACKS = """\
{columns}
Example 1,wide-range,all-round,white oak,{older_logs},{thick},{long},{older},{spawn},,replace these rows by your own
Example 2,cold-weather,cool,sugar maple,{younger_logs},{thick},{long},{younger},plug,,"class: cold-weather, wide-range or warm-weather; spawn: plug, thimble or sawdust"
"""  # noqa: E501


@dataclass(frozen=True)
class NewYard:
    """What is told of a new yard; what is None or empty is guessed, or an example stands there.

    To be written it must have name, position, time zone and units.
    """

    name: str = ""
    place: str = ""  # a position like '42.44, -76.5', or a town with a weather station
    latitude: float | None = None  # [degree, north positive]
    longitude: float | None = None  # [degree, east positive]
    elevation_m: float | None = None  # height above the sea [m]
    timezone: str | None = None  # its name in the IANA data base
    units: Units | None = None  # what people see, and the units of the example rows
    # Weather station, or 'nearest'; None takes weather.csv in the folder
    station: str | None = None
    soak_days: Sequence[str] | None = None  # days of the week on which soaks start
    tank_logs: int | None = None  # logs that fit the tank at one time
    sells: bool = True  # whether mushrooms are sold; else the yard is a shorter one, for the table


def write_starter(folder: Path, yard: NewYard, today: date) -> tuple[Path, Path]:
    """Write yard.toml and stacks.csv for a new yard, both or neither, and return them.

    The folder is made when it isn't there; the examples are dated around today. Raises InputError
    if one of the files is there already; FaultsError if a value given is wrong; nothing is
    written then; OutputError if the files can't be written.
    """
    paths = (folder / keys.FILE, folder / stacks.FILE)
    for path in paths:
        if path.exists():
            raise InputError(
                f"{path}: is there already, and a new yard would overwrite it. Choose another "
                "folder, or move the file away first."
            )
    side = "south" if (yard.latitude or 0.0) < 0 else "north"
    settings = _settings_text(yard, side, today)
    rows = _stacks_text(yard, side, today)
    faults = parse_settings(settings, folder)[1].faults
    faults += stacks.parse_stacks(rows, default_numbers())[1].faults
    if faults:
        raise FaultsError(faults)
    write_all_atomically({paths[0]: settings.encode(), paths[1]: rows.encode()})
    return paths


def _settings_text(yard: NewYard, side: str, today: date) -> str:
    assert yard.latitude is not None and yard.longitude is not None
    assert yard.timezone is not None and yard.units is not None
    numbers, height = default_numbers(), yard.elevation_m or 0.0
    place = "station = " + _quoted(yard.station) if yard.station else f'file = "{WEATHER_FILE}"'
    soak_first, soak_last = _SOAKED[side]
    first, last = _SEASONS[side]
    mark = "#" if abs(yard.latitude) < _TROPIC else ""
    other = f'#file = "{WEATHER_FILE}"' if yard.station else '#station = "nearest"'
    usual = (("Tue", "Fri"), 40) if yard.sells else (("Sat",), 12)
    soak_days = usual[0] if yard.soak_days is None else yard.soak_days
    template = _SETTINGS
    for slot, (selling, not_selling) in _SELLING.items():
        template = template.replace("{" + slot + "}", selling if yard.sells else not_selling)
    return template.format(
        name=_quoted(yard.name),
        units=yard.units,
        latitude=float(yard.latitude),
        longitude=float(yard.longitude),
        elevation=f"elevation_ft = {height / M_PER_FT:.0f}"
        if yard.units == "us"
        else f"elevation_m = {height:g}",
        timezone=_quoted(yard.timezone),
        weather=f"{place}\n{other}",
        season=f'{mark}from = "{first}"\n{mark}to = "{last}"',
        soak_first=soak_first,
        soak_last=soak_last,
        days=", ".join(_quoted(day) for day in soak_days),
        tank_logs=usual[1] if yard.tank_logs is None else yard.tank_logs,
        order_on=date(today.year + 1, 6, 19),
        away_from=date(today.year + 1, 7, 4),
        away_to=date(today.year + 1, 7, 10),
        closed_on=_saturday(date(today.year + 1, 7, 1)),
        promise=numbers.yard.promise,
        shade=numbers.yard.shade,
        keep_above=numbers.yard.keep_above,
        cold_store_days=int(numbers.yard.cold_store_days),
        saleable=numbers.yard.saleable,
        rest_days=int(numbers.schedule.rest_days),
        **_SHOWN[yard.units],
    )


def _saturday(day: date) -> date:
    return date.fromordinal(day.toordinal() + (5 - day.weekday()) % 7)


def _quoted(text: str) -> str:
    """Return a text as a TOML basic string."""
    # JSON's escapes are TOML's too, but for the one control character that JSON leaves bare.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def columns_of(units: Units) -> list[str]:
    """Return the names of the columns of a new stacks.csv."""
    unit, _ = UNIT_OF_SIZE[units]
    return [
        *("stack", "strain_class", "strain", "tree", "logs", f"diameter_{unit}", f"length_{unit}"),
        *("inoculated", "spawn", "bearing_since", "note"),
    ]


def _stacks_text(yard: NewYard, side: str, today: date) -> str:
    us = yard.units == "us"
    month, day = _INOCULATED[side]
    new = date(today.year, month, day)
    if new > today:
        new = date(today.year - 1, month, day)
    return _STACKS.format(
        columns=",".join(columns_of("us" if us else "metric")),
        thick=5 if us else 12.5,
        long=40 if us else 100,
        older=date(today.year - 2, month, day),
        # Where nothing is sold, a handful of logs that bear and a handful of new ones.
        younger=date(today.year - 1, month, day) if yard.sells else new,
        older_logs=40 if yard.sells else 12,
        younger_logs=36 if yard.sells else 10,
        spawn="sawdust" if yard.sells else "plug",
    )
