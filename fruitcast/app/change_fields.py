"""What of yard.toml a form offers: its fields, what they show, and what is read from them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Literal

from fruitcast.errors import Fault
from fruitcast.numbers import default_numbers
from fruitcast.tables.values import WEEKDAYS, WrongValueError, cell_number, shown, weekday
from fruitcast.topics import SPAWN_FORMS, STRAIN_CLASSES
from fruitcast.units import UNITS, Units, keys_of
from fruitcast.words import capital, span_words
from fruitcast.yard.keys import FILE
from fruitcast.yard.model import TANK_WATERS
from fruitcast.yard.settings_text import Value, Way, leaves

Kind = Literal[
    "text",
    "number",
    "days",
    "weekday",
    "yes or no",
    "choice",
    "day",
    "span",
    "hours",
    "moist",
    "lots",
]

YES, NO = "yes", "no"
NOBODY, WHOLE = "nobody", "whole"
_DAY_LETTERS = 3


@dataclass(frozen=True)
class Field:
    """One field of a form."""

    # Where in yard.toml its value stands; of a key that says its unit, without that: `in_units`.
    way: Way
    label: str
    hint: str = ""  # what helps to fill it in
    kind: Kind = "number"  # how its value is written
    options: tuple[str, ...] = ()  # what can be chosen
    selling: bool = False  # whether it only matters where mushrooms are sold

    @property
    def name(self) -> str:
        """Its name in the form."""
        return ".".join(str(part) for part in self.way if isinstance(part, str))


@dataclass(frozen=True)
class Section:
    """Fields that stand on one page."""

    name: str  # in addresses
    title: str
    fields: tuple[Field, ...]  # what it holds; of a repeated table, ways within the table
    repeated: bool = False  # whether there may be several of it
    selling: bool = False  # whether it only matters where mushrooms are sold


_USUAL = "Empty: the usual value."
_SPAN = "A date like 2027-05-15, or month and day like 05-15 for every year. Empty: all year."


_WEIGHT = Field(
    ("weight",),
    "Importance",
    "How much being short here counts against being short elsewhere. Empty: 1.",
)

SECTIONS: tuple[Section, ...] = (
    Section(
        "yard",
        "Name, place and units",
        (
            Field(("name",), "Name of the yard", kind="text"),
            Field(("units",), "What you see", "us: lb, in, F; metric: kg, cm, C", "choice", UNITS),
            Field(("site", "latitude"), "Latitude", "Degrees; north is positive."),
            Field(
                ("site", "longitude"),
                "Longitude",
                "Degrees; east is positive, so all of America is negative.",
            ),
            Field(("site", "elevation"), "Height above the sea"),
            Field(("site", "timezone"), "Time zone", "Region and city: America/New_York", "text"),
            Field(
                ("site", "shade"),
                "Shade",
                f"Share of the open sky's light kept off the logs, from 0 to 1. {_USUAL}",
            ),
        ),
    ),
    Section(
        "weather",
        "Where the weather comes from",
        (
            Field(
                ("weather", "station"),
                "Weather station",
                "Its number, or 'nearest'. Leave this empty where a file is used.",
                "text",
            ),
            Field(
                ("weather", "file"),
                "Weather file",
                "Its name; it lies in the yard's folder. Leave this empty where a station is used.",
                "text",
            ),
            Field(("weather", "years"), "Past years to plan from", "Empty: 30."),
            Field(
                ("weather", "contact"),
                "Your e-mail address or web page",
                "MET Norway, asked for a forecast, wants to know who asks. Empty: it is not asked.",
                "text",
            ),
        ),
    ),
    Section(
        "soaking",
        "Soaking: days, tank, hours",
        (
            Field(("soaking", "days"), "Days on which you can put logs in", "", "days"),
            Field(("soaking", "tank_logs"), "Logs that fit the tank at one time"),
            Field(
                ("soaking", "hours_a_day"),
                "Hours of work a day for soaking and pulling",
                "A number, or by day: Tue 3, Fri 2, other 1. Empty: no limit.",
                "hours",
            ),
            Field(
                ("soaking", "start"),
                "When logs go in and come out",
                "Like 08:00. Empty: 08:00.",
                "text",
            ),
            Field(
                ("soaking", "first"),
                "First day of the year for soaking",
                "Month and day: 04-15. Empty: all year.",
                "text",
            ),
            Field(("soaking", "last"), "Last day of the year for soaking", "", "text"),
            Field(
                ("soaking", "rest_days"),
                "Days from one soak of a stack to its next",
                f"49 or more. {_USUAL}",
            ),
            Field(
                ("soaking", "lot_logs"),
                "Logs in a lot",
                "A number, or 'whole': no lots. Empty: lots are proposed.",
                "lots",
            ),
            Field(
                ("soaking", "water"), "Where the tank's water comes from", "", "choice", TANK_WATERS
            ),
        ),
    ),
    Section(
        "care",
        "Fruiting places, cold store, watering",
        (
            Field(
                ("fruiting", "places"), "Logs that can stand where they fruit", "Empty: no limit."
            ),
            Field(
                ("fruiting", "under_cover"), "Does a roof keep the rain off them?", "", "yes or no"
            ),
            Field(("cold_store", "days"), "Days that picked mushrooms keep", _USUAL),
            Field(
                ("watering", "keep_above"),
                "Logs are watered before they are drier than this",
                "Share of the wet weight that is water, like 0.35; 'nobody' where nobody waters. "
                f"{_USUAL}",
                "moist",
            ),
            Field(
                ("picking", "saleable"),
                "Share of the crop that can be sold",
                f"From 0 to 1. {_USUAL}",
                selling=True,
            ),
            Field(
                ("promise",),
                "Chance with which a promise should hold",
                f"0.8 is four times in five. {_USUAL}",
                selling=True,
            ),
        ),
    ),
    Section(
        "costs",
        "Costs",
        (
            Field(("costs", "log"), "A log, felled and brought home", "In your own money."),
            Field(("costs", "plug"), "A plug of spawn"),
            Field(("costs", "thimble"), "A thimble of spawn"),
            Field(("costs", "sawdust"), "Sawdust spawn"),
            Field(("costs", "wax"), "Wax"),
            Field(("costs", "wage_per_hour"), "An hour of work"),
            Field(("costs", "hours"), "Hours of picking, packing and selling"),
        ),
    ),
    Section(
        "outlet",
        "Markets and other regular sales",
        (
            Field(("name",), "Name", "", "text"),
            Field(("day",), "Day of the week", "", "weekday"),
            Field(("target",), "What it takes each time", "0 while it is paused."),
            Field(("from",), "From", _SPAN, "span"),
            Field(("to",), "To", "", "span"),
            Field(("price",), "Your price"),
            _WEIGHT,
        ),
        repeated=True,
    ),
    Section(
        "order",
        "Orders: single sales",
        (
            Field(("outlet",), "Who for", "", "text"),
            Field(("on",), "Day", "", "day"),
            Field(("target",), "What it takes"),
            Field(("price",), "Your price"),
            _WEIGHT,
        ),
        repeated=True,
    ),
    Section(
        "away",
        "Days away",
        (
            Field(("from",), "First day", kind="day"),
            Field(("to",), "Last day", "Empty: that one day.", "day"),
        ),
        repeated=True,
    ),
    Section(
        "closed",
        "Days on which a market doesn't open",
        (Field(("outlet",), "Market", "", "text"), Field(("on",), "Day", "", "day")),
        repeated=True,
        selling=True,
    ),
    Section(
        "wood",
        "Logs you can get",
        (
            Field(("tree",), "Tree", "", "text"),
            Field(("diameter",), "Diameter over bark"),
            Field(("length",), "Length"),
            Field(("logs_a_year",), "Most logs of it a year", "Empty: no limit."),
            Field(("log_cost",), "What one costs", "Empty: as under costs."),
            Field(("spawn",), "Only for this spawn", "", "choice", SPAWN_FORMS),
            Field(("strain_class",), "Only for this class", "", "choice", STRAIN_CLASSES),
        ),
        repeated=True,
    ),
)


STACK_FIELDS = {
    field.name: field
    for field in (
        Field(("stack",), "Name", "", "text"),
        Field(
            ("strain_class",),
            "Strain class",
            "The spawn maker's label says which.",
            "choice",
            STRAIN_CLASSES,
        ),
        Field(("strain",), "Strain", "Your own word for it.", "text"),
        Field(("tree",), "Tree", "Like red oak. Unknown: other.", "text"),
        Field(("logs",), "Logs", "", "text"),
        Field(("diameter_cm",), "Diameter over bark (cm)", "", "text"),
        Field(("diameter_in",), "Diameter over bark (in)", "", "text"),
        Field(("length_cm",), "Length (cm)", "", "text"),
        Field(("length_in",), "Length (in)", "", "text"),
        Field(("inoculated",), "Inoculated on", "", "day"),
        Field(("spawn",), "Spawn", "", "choice", SPAWN_FORMS),
        Field(
            ("bearing_since",),
            "Bearing since",
            "Day or year of the first mushrooms. Empty: not known.",
            "text",
        ),
        Field(("note",), "Note", "", "text"),
    )
}
"""The columns of stacks.csv."""

COLUMN_WORDS = {
    name: field.label.lower().replace(" over bark", "") for name, field in STACK_FIELDS.items()
}
"""What a sentence calls the columns of stacks.csv."""


def numbers_section() -> Section:
    """Return the numbers that plans hang on most, for which growers can find their own."""
    entries = [entry for entry in default_numbers().entries() if entry.find]
    return Section(
        "numbers",
        "The numbers that matter most",
        tuple(
            Field(
                ("numbers", entry.key),
                f"{entry.key} ({entry.unit})",
                f"Ours is {entry.value:g} ({entry.label}). From {entry.low:g} to {entry.high:g}. "
                f"Find your own: {entry.find}.",
            )
            for entry in entries
        ),
    )


def section_named(name: str) -> Section | None:
    """Return a section by its name in addresses, None when there is none."""
    return next((each for each in (*SECTIONS, numbers_section()) if each.name == name), None)


def in_units(section: Section, raw: Mapping[str, object], units: Units) -> Section:
    """Return a section whose fields go by the units that stand in the file.

    `raw` is what yard.toml says, of a repeated table what the table says; where it says nothing,
    the unit is that of `units`.
    """
    said = dict(leaves(dict(raw)))

    def fitted(field: Field) -> Field:
        *table, quantity = field.way
        keys = keys_of(str(quantity))
        if not keys:
            return field
        given = [key for key in keys if (*table, key) in said]
        key = given[0] if given else keys[0 if units == "metric" else -1]
        unit = key.removeprefix(f"{quantity}_").replace("_", " ")
        return replace(field, way=(*table, key), label=f"{field.label} ({unit})")

    return replace(section, fields=tuple(map(fitted, section.fields)))


def rows_said(raw: Mapping[str, object], section: Section) -> list[dict[str, object]]:
    """Return the tables of a section that may stand several times."""
    rows = raw.get(section.name, [])
    return [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []


def shown_values(section: Section, raw: Mapping[str, object]) -> dict[str, str]:
    """Return what the fields show, by their names."""
    said = dict(leaves(dict(raw)))
    found = {}
    for field in section.fields:
        way = tuple(part for each in field.way for part in str(each).split("."))
        value = said.get(way)
        if value is None:
            value = {each[-1]: told for each, told in said.items() if each[:-1] == way} or None
        found[field.name] = _text_of(value, field.kind)
    return found


def row_words(section: Section, values: Sequence[str]) -> str:
    """Return what a table of several says, in a line: days away as the span that they are."""
    told = list(filter(None, values))
    if section.name == "away":
        try:
            days = [date.fromisoformat(each) for each in told]
        except ValueError:
            return ", ".join(told)
        if days and days[0] <= days[-1]:
            return f"{span_words(days[0], days[-1])} {days[-1].year}"
    return ", ".join(told)


def _text_of(value: object, kind: Kind) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return NOBODY if kind == "moist" and not value else YES if value else NO
    if isinstance(value, dict):
        return ", ".join(f"{day} {_text_of(hours, 'number')}" for day, hours in value.items())
    if isinstance(value, list):
        value = ",".join(str(part) for part in value)
    if kind in ("days", "weekday"):
        return _day_letters(str(value))
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return value.isoformat(" ")
    if isinstance(value, time):
        return value.isoformat("minutes")
    return " ".join(str(value).split())


def _day_letters(text: str) -> str:
    """Return days of the week by their first three letters, in order; as given if it is none."""
    try:
        numbers = {weekday(part) for part in re.split(r"[,;]", text) if part.strip()}
    except WrongValueError:
        return text
    return ",".join(WEEKDAYS[number][:_DAY_LETTERS] for number in sorted(numbers))


def read_value(field: Field, text: str) -> Value | None:
    """Return what a field means; None for an empty one, which unsets the key.

    What is read here is not yet checked: that is done on the whole file.

    Raises WrongValueError if it can't be read at all.
    """
    text = " ".join(text.split())
    if not text:
        return None
    match field.kind:
        case "number":
            return _number(text)
        case "days":
            return [part.strip() for part in text.split(",")]
        case "yes or no":
            if text not in (YES, NO):
                raise WrongValueError(f"{shown(text)} is neither yes nor no", "Choose one.")
            return text == YES
        case "day" | "span":
            try:
                return date.fromisoformat(text)
            except ValueError:
                return text
        case "hours":
            return _hours(text)
        case "moist":
            return False if text.casefold() == NOBODY else _number(text)
        case "lots":
            return text if text.casefold() == WHOLE else _number(text)
    return text


def _number(text: str) -> int | float:
    try:
        value = cell_number(text)
    except WrongValueError as error:
        raise WrongValueError(
            f"{shown(text)} is not a number", "Write it like 24 or 1.5, without a unit."
        ) from error
    return int(value) if re.fullmatch(r"[+-]?\d+", text) else value


def _hours(text: str) -> Value:
    parts = [part.split() for part in re.split(r"[,;](?=\s*[A-Za-z])", text)]
    if len(parts) == 1 and len(parts[0]) == 1:
        return _number(text)
    if any(len(part) != 2 for part in parts):
        raise WrongValueError(
            f"{shown(text)} is no number of hours", "Write it like 3, or like Tue 3, other 1."
        )
    return {day: _number(hours.strip("=: ")) for day, hours in parts}


def faults_by_field(names: Sequence[str], faults: Sequence[Fault]) -> dict[str, str]:
    """Return faults by the field that they are of; under '' those of none.

    `names` are the fields: 'soaking.tank_logs', or a column of stacks.csv.
    """
    found: dict[str, list[str]] = {}
    for fault in faults:
        name = next((name for name in names if _is_of(fault, name)), "")
        if not name:
            words = f"{fault.place.removeprefix(f'{FILE} ')}: {fault.problem}. {fault.remedy}"
        elif fault.problem.endswith(" is missing"):
            words = "Fill this in."
        else:
            problem = fault.problem.removeprefix(f"{_key_of(name)} ")
            words = f"{capital(problem)}. {fault.remedy}"
        found.setdefault(name, []).append(words)
    return {name: " ".join(words) for name, words in found.items()}


def _key_of(name: str) -> str:
    """Return the key under which a field stands: dots belong to those of numbers."""
    own = name.removeprefix("numbers.")
    return own if own != name else name.rpartition(".")[2]


def _is_of(fault: Fault, name: str) -> bool:
    key = _key_of(name)
    return fault.place.endswith((f" {key}", f"'{key}'")) or fault.problem.startswith(f"{key} ")
