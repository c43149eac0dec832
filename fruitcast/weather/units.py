"""Units in which weather files give temperature, rain and humidity, and how they are told apart."""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Literal

import numpy as np

from fruitcast.weather.daily import FloatArray

System = Literal["metric", "us", "tenths"]
"""Units of a whole file: C and mm; F and inches; tenths of C and tenths of mm."""

SYSTEMS: tuple[System, ...] = ("metric", "us", "tenths")

TEMPERATURES = ("tmin", "tmax", "tmean")


class Unit(StrEnum):
    """A unit as messages name it."""

    CELSIUS = "C"
    FAHRENHEIT = "F"
    KELVIN = "K"
    TENTHS_CELSIUS = "tenths of C"
    MM = "mm"
    CM = "cm"
    INCH = "in"
    TENTHS_MM = "tenths of mm"
    PERCENT = "%"


_TO_SI: dict[Unit, tuple[float, float]] = {
    Unit.CELSIUS: (1.0, 0.0),
    Unit.FAHRENHEIT: (5.0 / 9.0, -160.0 / 9.0),
    Unit.KELVIN: (1.0, -273.15),
    Unit.TENTHS_CELSIUS: (0.1, 0.0),
    Unit.MM: (1.0, 0.0),
    Unit.CM: (10.0, 0.0),
    Unit.INCH: (25.4, 0.0),
    Unit.TENTHS_MM: (0.1, 0.0),
    Unit.PERCENT: (1.0, 0.0),
}

_WORDS: dict[str, Unit] = {
    **dict.fromkeys(("c", "degc", "deg c", "celsius", "centigrade", "℃"), Unit.CELSIUS),
    **dict.fromkeys(("f", "degf", "deg f", "fahrenheit", "℉"), Unit.FAHRENHEIT),
    **dict.fromkeys(("k", "kelvin"), Unit.KELVIN),
    **dict.fromkeys(("tenths c", "tenths of c", "0.1 c", "0.1c"), Unit.TENTHS_CELSIUS),
    **dict.fromkeys(
        ("mm", "millimeter", "millimeters", "millimetre", "millimetres", "kg m-2", "kg/m2", "l/m2"),
        Unit.MM,
    ),
    **dict.fromkeys(("cm", "centimeter", "centimeters", "centimetre"), Unit.CM),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"'), Unit.INCH),
    **dict.fromkeys(("tenths mm", "tenths of mm", "0.1 mm", "0.1mm"), Unit.TENTHS_MM),
    **dict.fromkeys(("%", "percent", "pct"), Unit.PERCENT),
}


def parse_unit(text: str) -> Unit | None:
    """Return the unit that a few words of a header name, or None."""
    words = text.strip().lower().replace("°", "").replace("º", "").strip()
    words = re.sub(r"\s*(/|per)\s*(d|day|24h)$|\s+d-1$", "", words)
    return _WORDS.get(words)


def unit_of(variable: str, system: System) -> Unit:
    """Return the unit of one variable in a system of units."""
    if variable == "rh":
        return Unit.PERCENT
    if variable in TEMPERATURES:
        return {
            "metric": Unit.CELSIUS,
            "us": Unit.FAHRENHEIT,
            "tenths": Unit.TENTHS_CELSIUS,
        }[system]
    return {"metric": Unit.MM, "us": Unit.INCH, "tenths": Unit.TENTHS_MM}[system]


def fits(variable: str, unit: Unit) -> bool:
    """Return whether a unit can belong to a variable at all."""
    if variable in TEMPERATURES:
        return unit in (Unit.CELSIUS, Unit.FAHRENHEIT, Unit.KELVIN, Unit.TENTHS_CELSIUS)
    if variable == "rain":
        return unit in (Unit.MM, Unit.CM, Unit.INCH, Unit.TENTHS_MM)
    return unit is Unit.PERCENT


def to_si(values: FloatArray, unit: Unit) -> FloatArray:
    """Return values in C, mm or percent, rounded to 0.0001 where a conversion was needed."""
    factor, offset = _TO_SI[unit]
    if factor == 1.0 and offset == 0.0:
        return values
    return np.round(values * factor + offset, 4) + 0.0


def guess_system(tmin: FloatArray, tmax: FloatArray, rain: FloatArray) -> tuple[System | None, str]:
    """Return the units of a file that does not name them, with the evidence in words.

    Only strong evidence counts: whole numbers too large for any temperature, values that no
    place reaches in Celsius, rain measured to the hundredth beside whole-degree temperatures,
    or temperatures to the tenth that stay in a Celsius range. The highest fiftieth of the
    temperatures is left out, so that a slip of the pen decides nothing. Where no evidence
    holds, the system is None and the words say what was seen.
    """
    temperatures = np.concatenate([tmin, tmax])
    temperatures = temperatures[np.isfinite(temperatures)]
    falls = rain[np.isfinite(rain) & (rain > 0)]
    if not len(temperatures):
        return None, "the file has no temperature"
    high = float(np.quantile(temperatures, 0.98))
    days = int(np.isfinite(tmax).sum())
    whole = bool(np.mean(temperatures == np.round(temperatures)) > 0.98)
    whole_rain = bool(np.mean(falls == np.round(falls)) > 0.98) if len(falls) else True
    hundredths = bool(np.mean(np.abs(falls * 10 - np.round(falls * 10)) > 1e-6) > 0.05)
    if whole and whole_rain and high > 140:
        return "tenths", f"temperatures are whole numbers up to about {high:g}"
    if 57 < high <= 135:
        return "us", f"temperatures reach {high:g}"
    if high > 135:
        return None, f"temperatures reach {high:g}"
    if whole and hundredths:
        return "us", "temperatures are whole degrees and rain is given to the hundredth"
    if not whole and not hundredths:
        return "metric", f"temperatures are given to the tenth and hardly pass {high:g}"
    if days >= 300:
        return "metric", f"temperatures of {days} days hardly pass {high:g}"
    return None, f"temperatures of only {days} days hardly pass {high:g}"
