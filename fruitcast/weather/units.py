"""Units in which weather files give temperature, rain and humidity, and how they are told apart."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.units import MM_PER_IN

System = Literal["metric", "us", "tenths"]
"""Units of a whole file: C and mm; F and inches; tenths of C and tenths of mm."""

SYSTEMS: tuple[System, ...] = ("metric", "us", "tenths")

_FEWEST_TO_GUESS = 20
"""Temperatures below which nothing is concluded from their size."""

_A_YEAR = 600
"""Lowest and highest temperatures of most of a year, a summer among it."""

_HOTTEST, _HOTTEST_FAHRENHEIT = 57.0, 135.0
"""No place is hotter, in C and in F (the world's record, from memory)."""

TEMPERATURES = ("tmin", "tmax", "tmean")


class Unit(StrEnum):
    """A unit as messages name it."""

    CELSIUS = "C"
    FAHRENHEIT = "F"
    KELVIN = "K"
    TENTHS_CELSIUS = "tenths of C"
    MM = "mm"
    CM = "cm"
    INCH = "inches"
    HUNDREDTHS_INCH = "hundredths of an inch"
    TENTHS_MM = "tenths of mm"
    PERCENT = "%"


_TO_SI: dict[Unit, tuple[float, float]] = {
    Unit.CELSIUS: (1.0, 0.0),
    Unit.FAHRENHEIT: (1.0 / 1.8, -32.0 / 1.8),
    Unit.KELVIN: (1.0, -273.15),
    Unit.TENTHS_CELSIUS: (0.1, 0.0),
    Unit.MM: (1.0, 0.0),
    Unit.CM: (10.0, 0.0),
    Unit.INCH: (MM_PER_IN, 0.0),
    Unit.HUNDREDTHS_INCH: (MM_PER_IN / 100.0, 0.0),
    Unit.TENTHS_MM: (0.1, 0.0),
    Unit.PERCENT: (1.0, 0.0),
}

_WORDS: dict[str, Unit] = {
    word: unit
    for unit, words in {
        Unit.CELSIUS: ("c", "degc", "deg c", "deg celsius", "celsius", "centigrade", "\u2103"),
        Unit.FAHRENHEIT: (
            *("f", "degf", "deg f", "deg fahr", "fahr", "deg fahrenheit", "fahrenheit", "\u2109"),
        ),
        Unit.KELVIN: ("k", "deg k", "kelvin"),
        Unit.TENTHS_CELSIUS: (
            *("tenths c", "tenths of c", "tenths deg c", "tenths of deg c"),
            *("0.1 c", "0.1c", "0.1 deg c", "1/10 c", "1/10 deg c"),
        ),
        Unit.MM: (
            *("mm", "millimeter", "millimeters", "millimetre", "millimetres"),
            *("kg m-2", "kg/m2", "l/m2", "litres/m2", "l/qm"),
        ),
        Unit.CM: ("cm", "centimeter", "centimeters", "centimetre", "centimetres"),
        Unit.INCH: ("in", "ins", "inch", "inches", "zoll", '"'),
        Unit.HUNDREDTHS_INCH: (
            *("points", "pts", "1/100 in", "1/100 inch", "0.01 in", "0.01 inch"),
            *("hundredths in", "hundredths of in", "hundredths of inch", "hundredths of inches"),
            "hundredths of an inch",
        ),
        Unit.TENTHS_MM: ("tenths mm", "tenths of mm", "0.1 mm", "0.1mm", "1/10 mm"),
        Unit.PERCENT: ("%", "percent", "pct"),
    }.items()
    for word in words
}

TITLES: dict[System, str] = {
    "metric": "tmin_c, tmax_c, rain_mm",
    "us": "tmin_f, tmax_f, rain_in",
    "tenths": "tmin (0.1 C), tmax (0.1 C), rain (0.1 mm)",
}
"""Titles that name the units of each system."""

_A_DAY = re.compile(r"\s*(?:/|per)\s*(?:d|day|24\s?h)$|\s+(?:d|day)(?:-1|\^-1)$")


def parse_unit(text: str) -> Unit | None:
    """Return the unit that a few words of a header name, or None.

    An amount of rain a day is that day's amount; one an hour or a second is a rate, and no unit
    of ours.
    """
    words = re.sub(r"[\u00b0\u00ba\u02da]", " deg ", text.lower())
    words = re.sub(r"\b(?:degrees?|grad)\b\.?|\bdeg\.", " deg ", words)
    words = _A_DAY.sub("", " ".join(words.split()))
    words = words.removesuffix(".") or words
    return _WORDS.get(words) or _WORDS.get(words.removeprefix("deg "))


def unit_of(variable: str, system: System) -> Unit:
    """Return the unit of one variable in a system of units."""
    if variable == "rh":
        return Unit.PERCENT
    of_warmth, of_rain = _OF_SYSTEM[system]
    return of_warmth if variable in TEMPERATURES else of_rain


_OF_SYSTEM: dict[System, tuple[Unit, Unit]] = {
    "metric": (Unit.CELSIUS, Unit.MM),
    "us": (Unit.FAHRENHEIT, Unit.INCH),
    "tenths": (Unit.TENTHS_CELSIUS, Unit.TENTHS_MM),
}


def fits(variable: str, unit: Unit) -> bool:
    """Return whether a unit can belong to a variable at all."""
    if variable in TEMPERATURES:
        return unit in (Unit.CELSIUS, Unit.FAHRENHEIT, Unit.KELVIN, Unit.TENTHS_CELSIUS)
    if variable == "rain":
        return unit in (Unit.MM, Unit.CM, Unit.INCH, Unit.HUNDREDTHS_INCH, Unit.TENTHS_MM)
    return unit is Unit.PERCENT


def to_si(values: FloatArray, unit: Unit) -> FloatArray:
    """Return values in C, mm or percent, rounded to 0.0001 where a conversion was needed."""
    factor, offset = _TO_SI[unit]
    if factor == 1.0 and offset == 0.0:
        return values
    return np.round(values * factor + offset, 4) + 0.0


@dataclass(frozen=True)
class Guess:
    """What the values of a file tell of their units."""

    system: System | None  # the units, None when the evidence is too weak
    evidence: str  # what was seen, in words
    not_celsius: bool = False  # whether the temperatures are too large for Celsius anywhere


def guess_system(tmin: FloatArray, tmax: FloatArray, rain: FloatArray) -> Guess:
    """Return what the values of a file that names no units tell of them.

    Only strong evidence counts: whole numbers too large for any temperature, values that no
    place reaches in Celsius, rain measured to the hundredth beside whole-degree temperatures,
    or temperatures to the tenth that stay in a Celsius range. The highest fiftieth of the
    temperatures is left out, so that a slip of the pen decides nothing.
    """
    temperatures = np.concatenate([tmin, tmax])
    temperatures = temperatures[np.isfinite(temperatures)]
    falls = rain[np.isfinite(rain) & (rain > 0)]
    if len(temperatures) < _FEWEST_TO_GUESS:
        return Guess(None, f"only {len(temperatures)} temperatures are known")
    high = float(np.quantile(temperatures, 0.98))
    whole = _mostly(temperatures == np.round(temperatures), 0.98)
    whole_rain = not len(falls) or _mostly(falls == np.round(falls), 0.98)
    hundredths = _mostly(np.abs(falls * 10 - np.round(falls * 10)) > 1e-6, 0.05)
    if high > _HOTTEST:
        evidence = f"temperatures reach {high:g}"
        if whole and whole_rain and high > _HOTTEST_FAHRENHEIT:
            return Guess("tenths", f"{evidence} in whole numbers", True)
        return Guess("us" if high <= _HOTTEST_FAHRENHEIT else None, evidence, True)
    if whole and hundredths:
        return Guess("us", "temperatures are whole degrees and rain is given to the hundredth")
    evidence = f"{len(temperatures)} temperatures hardly pass {high:g}"
    if not whole and not hundredths:
        return Guess("metric", f"{evidence} and are given to the tenth")
    return Guess("metric" if len(temperatures) >= _A_YEAR else None, evidence)


def _mostly(true: BoolArray, share: float) -> bool:
    return len(true) > 0 and float(true.mean()) > share
