"""Units at the border: keys and words in, SI inside, 'us' or 'metric' out.

Everything is converted here once. A key carries its unit (`target_lb`, `diameter_cm`);
words carry theirs ("2 lb 6 oz"); a weight without a unit is never guessed unless the
caller says which one a bare number has.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from fruitcast.errors import InputError

Units = Literal["us", "metric"]
UNITS: tuple[Units, ...] = ("us", "metric")

KG_PER_LB = 0.45359237
KG_PER_OZ = KG_PER_LB / 16
M_PER_IN = 0.0254
M_PER_FT = 12 * M_PER_IN
MM_PER_IN = 25.4
# The pound and the inch are exact by the international agreement of 1959.

UNIT_OF_WEIGHT: dict[Units, tuple[str, float]] = {"us": ("lb", KG_PER_LB), "metric": ("kg", 1.0)}
"""What people weigh in: its name, and how much it is. [kg]"""
UNIT_OF_SIZE: dict[Units, tuple[str, float]] = {"us": ("in", M_PER_IN), "metric": ("cm", 0.01)}
"""What a log is measured in. [m]"""
UNIT_OF_RAIN: dict[Units, tuple[str, float]] = {"us": ("in", MM_PER_IN), "metric": ("mm", 1.0)}
"""What rain and waterings are measured in. [mm]"""

_OF_BOTH = re.compile(
    r"(\d[\d.]* (?:lb|oz|in|gal)(?:,? \d+ oz)?)\|(\d[\d.]* (?:kg|g|mm|litres)(?:, \d+ g)?)"
)
"""An amount of an example in both systems: '2 lb|1 kg'."""

UNKNOWN = "-"
"""What stands for a missing value in words for people."""

SI_OF_KEY: dict[str, tuple[str, float]] = {
    "target_kg": ("target", 1.0),
    "target_lb": ("target", KG_PER_LB),
    "price_per_kg": ("price", 1.0),
    "price_per_lb": ("price", 1 / KG_PER_LB),
    "elevation_m": ("elevation", 1.0),
    "elevation_ft": ("elevation", M_PER_FT),
    "diameter_cm": ("diameter", 0.01),
    "diameter_in": ("diameter", M_PER_IN),
    "length_cm": ("length", 0.01),
    "length_in": ("length", M_PER_IN),
    "sawdust_per_kg": ("sawdust", 1.0),
    "sawdust_per_lb": ("sawdust", 1 / KG_PER_LB),
    "wax_per_kg": ("wax", 1.0),
    "wax_per_lb": ("wax", 1 / KG_PER_LB),
    "hours_per_kg": ("hours", 1.0),
    "hours_per_lb": ("hours", 1 / KG_PER_LB),
}
"""Each key that carries a unit: its quantity, and the factor to kg, m, or money or hours per kg."""


def units_named(text: str) -> Units | None:
    """Return the units of a name, None where there are none of it."""
    return next((units for units in UNITS if units == text), None)


def keys_of(quantity: str) -> tuple[str, ...]:
    """Return the keys under which a quantity may be given, the metric one first."""
    return tuple(key for key, (name, _) in SI_OF_KEY.items() if name == quantity)


def si_from_key(key: str, value: float) -> float:
    """Return a value given under a key of `SI_OF_KEY` in SI: kg, m, or money or hours per kg."""
    return value * SI_OF_KEY[key][1]


@dataclass(frozen=True)
class _Kind:
    """One kind of quantity in words: its unit words, and what a bare number may mean."""

    noun: str
    factors: Mapping[str, float]
    bare: Mapping[str, float]
    example: str


def _words(*groups: tuple[float, str]) -> dict[str, float]:
    return {word: factor for factor, words in groups for word in words.split()}


_WEIGHT = _Kind(
    noun="weight",
    factors=_words(
        (1.0, "kg kgs kilo kilos kilogram kilograms"),
        (0.001, "g gr gram grams"),
        (KG_PER_LB, "lb lbs pound pounds #"),
        (KG_PER_OZ, "oz ounce ounces"),
    ),
    bare={"us": KG_PER_LB, "metric": 1.0},
    example="'2 lb 6 oz', '1.1 kg' or '450 g'",
)
_LENGTH = _Kind(
    noun="length",
    factors=_words(
        (1.0, "m metre metres meter meters"),
        (0.01, "cm centimetre centimetres centimeter centimeters"),
        (0.001, "mm millimetre millimetres millimeter millimeters"),
        (M_PER_IN, "in inch inches ''"),
        (M_PER_FT, "ft foot feet '"),
    )
    | {'"': M_PER_IN},
    bare={"us": M_PER_IN, "metric": 0.01},
    example="'5 in', '3 ft 4 in' or '12.5 cm'",
)
_RAIN = _Kind(
    noun="rain",
    factors=_words(
        (1.0, "mm millimetre millimetres millimeter millimeters"),
        (10.0, "cm centimetre centimetres centimeter centimeters"),
        (MM_PER_IN, "in inch inches ''"),
    )
    | {'"': MM_PER_IN},
    bare={"us": MM_PER_IN, "metric": 1.0},
    example="'0.6 in' or '15 mm'",
)

_FRACTIONS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8"}
_NUMBER = r"\d{1,9}\s+\d{1,3}/\d{1,3}|\d{1,3}/\d{1,3}|\d{1,9}(?:[.,]\d{1,9})?|[.,]\d{1,9}"
_PART = re.compile(rf"\s*({_NUMBER})\s*([a-z#'\"]*)\.?\s*(?:and\b|,(?=\s))?\s*")


def parse_weight(text: str, bare: Units | None = None) -> float:
    """Return the weight that words give: "2 lb 6 oz", "1.1 kg", "450 g", "1,1 kg", "1/2 lb". [kg]

    A number and its unit, or several of them to be added, the largest unit first; `bare` tells
    what a number without a unit means, None refuses it. Raises InputError if the words are not a
    weight, or a unit is missing.
    """
    return _parse(_WEIGHT, text, bare)


def parse_length(text: str, bare: Units | None = None) -> float:
    """Return the length that words give: "5 in", "3 ft 4 in", "12,5 cm". [m]

    A bare number is inches or centimetres; see `parse_weight` for the rest.
    """
    return _parse(_LENGTH, text, bare)


def parse_rain(text: str, bare: Units | None = None) -> float:
    """Return the depth of rain that words give: "0.6 in", "15 mm". [mm]

    A bare number is inches or millimetres; see `parse_weight` for the rest.
    """
    return _parse(_RAIN, text, bare)


def celsius(fahrenheit: float) -> float:
    """Return a temperature in degrees Celsius."""
    return (fahrenheit - 32.0) / 1.8


def fahrenheit(celsius: float) -> float:
    """Return a temperature in degrees Fahrenheit."""
    return 1.8 * celsius + 32.0


def _parse(kind: _Kind, text: str, bare: Units | None) -> float:
    words = text.lower()
    for sign, fraction in _FRACTIONS.items():
        words = words.replace(sign, fraction)
    total, last, at = 0.0, math.inf, 0
    words = words.strip()
    while at < len(words):
        found = _PART.match(words, at)
        if found is None:
            raise InputError(
                f"'{_short(text)}' is not a {kind.noun}. Write it like {kind.example}."
            )
        at = found.end()
        if found[2]:
            if found[2] not in kind.factors:
                raise InputError(
                    f"'{_short(text)}': '{_short(found[2])}' is not a unit of {kind.noun}. "
                    f"Write it like {kind.example}."
                )
            factor = kind.factors[found[2]]
        elif bare is None or last < math.inf or at < len(words):
            raise InputError(
                f"'{_short(text)}': {found[1]} has no unit, and it won't be guessed. "
                f"Write it like {kind.example}."
            )
        else:
            factor = kind.bare[bare]
        if factor >= last:
            raise InputError(
                f"'{_short(text)}' is not one {kind.noun}: the larger unit comes first. "
                f"Write it like {kind.example}."
            )
        last = factor
        total += factor * _value(found[1], text, kind.noun)
    if last == math.inf:
        raise InputError(f"The {kind.noun} is empty. Write it like {kind.example}.")
    return total


def _value(number: str, text: str, noun: str) -> float:
    """Return a number like '2', '1,1', '1/2' or '2 1/2'."""
    total = 0.0
    for part in number.split():
        upper, _, lower = part.replace(",", ".").partition("/")
        if lower and not float(lower):
            raise InputError(f"'{_short(text)}' is not a {noun}: it divides by nought.")
        total += float(upper) / (float(lower) if lower else 1.0)
    return total


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 40 else f"{line[:37]}..."


SHOWN_AS_NONE_KG = 0.1
"""What can be sold and is less than this is told as none. [kg]"""


def in_own_units(text: str, units: Units) -> str:
    """Return words whose examples name amounts in both systems ('2 lb|1 kg') with one of them."""
    return _OF_BOTH.sub(lambda both: both[1 if units == "us" else 2], text)


def format_weight(kg: float, units: Units) -> str:
    """Return a weight for people: '2.4 lb', '6 oz', '1.1 kg', '450 g'; NaN is unknown. [kg]"""
    if math.isnan(kg):
        return UNKNOWN
    large, per_large, large_unit, small_unit = (
        (kg / KG_PER_LB, 16, "lb", "oz") if units == "us" else (kg, 1000, "kg", "g")
    )
    small = round(large * per_large)
    if abs(small) < per_large:
        return f"{small} {small_unit}"
    return f"{_rounded(large, 0 if abs(large) >= 99.95 else 1)} {large_unit}"


def format_sale_weight(kg: float, units: Units) -> str:
    """Return what can be sold: 'none' for what no stall would put on its scale. [kg]"""
    return "none" if kg < SHOWN_AS_NONE_KG else format_weight(kg, units)


def format_temperature(celsius: float, units: Units) -> str:
    """Return a temperature for people, to the degree: '72 °F', '22 °C'. [degC]"""
    if math.isnan(celsius):
        return UNKNOWN
    if units == "us":
        return f"{_rounded(fahrenheit(celsius), 0)} °F"
    return f"{_rounded(celsius, 0)} °C"


def format_length(metres: float, units: Units) -> str:
    """Return a log's diameter or length for people, to a tenth: '5 in', '12.7 cm'. [m]"""
    if math.isnan(metres):
        return UNKNOWN
    value, unit = (metres / M_PER_IN, "in") if units == "us" else (metres * 100, "cm")
    return f"{_rounded(value, 1).removesuffix('.0')} {unit}"


def format_elevation(metres: float, units: Units) -> str:
    """Return a height above the sea for people: '790 ft', '240 m'. [m]"""
    if math.isnan(metres):
        return UNKNOWN
    value, unit = (metres / M_PER_FT, "ft") if units == "us" else (metres, "m")
    return f"{_rounded(value, 0)} {unit}"


def format_rain(mm: float, units: Units) -> str:
    """Return a depth of rain or watering for people: '0.59 in', '15 mm'. [mm]"""
    if math.isnan(mm):
        return UNKNOWN
    if units == "us":
        return f"{_rounded(mm / MM_PER_IN, 2)} in"
    return f"{_rounded(mm, 0 if abs(mm) >= 9.95 else 1).removesuffix('.0')} mm"


def _rounded(value: float, digits: int) -> str:
    # Adding nought turns a rounded -0.0 into 0.0.
    return f"{round(value, digits) + 0.0:.{digits}f}"
