"""Invented daily weather of a place that does not exist, for samples and trials.

The generator is of the kind that Richardson described in 1981 (from memory: Stochastic simulation
of daily precipitation, temperature and solar radiation, Water Resources Research 17): whether a
day is wet depends on the month and on the day before, the amount on a wet day is drawn from a
gamma distribution of the month, and temperature swings about its seasonal mean with a memory of
some days, cooler and with less of a range on wet days. Ours has two things more: a slow swing of
wetness over weeks, which makes dry spells and wet spells, and summer rain in fewer, larger falls,
which are thunderstorms. The same seed gives the same weather, value for value.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

import numpy as np

from fruitcast.weather.daily import VARIABLES, DailyWeather, Source
from fruitcast.weather.table import derive_mean

Months = tuple[float, float, float, float, float, float, float, float, float, float, float, float]


@dataclass(frozen=True)
class Climate:
    """What the weather of an invented place is drawn from. Every value is judgement.

    Attributes
    ----------
    wet_after_dry, wet_after_wet : 12 floats
        Chance of a wet day by month, January first. [0..1]
    wet_amount : 12 floats
        Mean rain of a wet day by month. [mm/day]
    amount_shape : 12 floats
        Shape of the gamma distribution of amounts; the smaller, the more of the rain falls on few
        days. [unitless]
    spell_memory : float
        How much of the slow swing of wetness is left after a day. [0..1]
    spell_strength : float
        How strongly that swing moves the odds of rain. [unitless]
    mean, swing : float
        Mean temperature of the year and half its difference between summer and winter. [degC]
    coldest_day : float
        Day of the year about which winter is centred. [day]
    lag : float
        Days by which changeable weather outlasts winter, and by which the wide range of the dry
        season's clear days runs ahead of summer: what makes late frosts. [day]
    deviation_winter, deviation_summer : float
        Standard deviation of daily mean temperature about its seasonal mean. [degC]
    memory : float
        How much of today's deviation is left tomorrow. [0..1]
    range_winter, range_summer : float
        Mean difference between highest and lowest temperature on dry days. [degC]
    wet_cooler_winter, wet_cooler_summer : float
        How much cooler wet days are; below zero for warmer, as under winter clouds. [degC]
    wet_range : float
        Share of the dry days' range on wet days. [0..1]
    night_share : float
        How much of the range lies below the day's drawn temperature; over one half in a hollow
        where cold air gathers at night. [0..1]
    """

    wet_after_dry: Months = (0.27, 0.26, 0.28, 0.30, 0.30, 0.28, 0.25, 0.23, 0.22, 0.23, 0.26, 0.28)
    wet_after_wet: Months = (0.45, 0.44, 0.45, 0.47, 0.46, 0.43, 0.40, 0.38, 0.40, 0.43, 0.46, 0.46)
    wet_amount: Months = (5.4, 5.6, 6.8, 7.9, 9.0, 10.6, 11.2, 10.8, 10.2, 8.6, 7.4, 6.0)
    amount_shape: Months = (0.78, 0.78, 0.75, 0.72, 0.68, 0.64, 0.60, 0.60, 0.64, 0.70, 0.75, 0.78)
    spell_memory: float = 0.96
    spell_strength: float = 0.55
    mean: float = 9.3
    swing: float = 13.9
    coldest_day: float = 27.0
    lag: float = 40.0
    deviation_winter: float = 5.6
    deviation_summer: float = 2.7
    memory: float = 0.7
    range_winter: float = 11.0
    range_summer: float = 14.5
    wet_cooler_winter: float = -1.5
    wet_cooler_summer: float = 1.8
    wet_range: float = 0.6
    night_share: float = 0.55


CONTINENTAL = Climate()
"""Cool-temperate and continental: frost until about mid May, warm summers, some 1000 mm a year."""


def invented_weather(
    start: date, end: date, seed: int, climate: Climate = CONTINENTAL
) -> DailyWeather:
    """Return invented daily weather from `start` to `end`, both included.

    Values are rounded to 0.1, as an observer would write them.
    """
    random = Random(seed)
    length = (end - start).days + 1
    tmin, tmax, rain = np.zeros(length), np.zeros(length), np.zeros(length)
    wet = False
    spell = random.gauss(0.0, 1.0)
    deviation = random.gauss(0.0, 1.0)
    for row in range(length):
        day = start + timedelta(days=row)
        month = day.month - 1
        spell = _remember(spell, climate.spell_memory, random)
        chance = (climate.wet_after_wet if wet else climate.wet_after_dry)[month]
        wet = random.random() < _shift_odds(chance, climate.spell_strength * spell)
        if wet:
            shape = climate.amount_shape[month]
            fallen = random.gammavariate(shape, climate.wet_amount[month] / shape)
            rain[row] = max(round(fallen, 1), 0.1)
        deviation = _remember(deviation, climate.memory, random)
        mean, spread = _day_temperature(day, wet, deviation, climate)
        spread *= random.triangular(0.5, 1.5, 1.0)
        below = climate.night_share * spread
        tmin[row], tmax[row] = round(mean - below, 1), round(mean - below + spread, 1)
    known = {"tmin": tmin + 0.0, "tmax": tmax + 0.0, "rain": rain}
    values = {name: known.get(name, np.full(length, np.nan)) for name in VARIABLES}
    sources = {
        name: np.full(length, Source.OBSERVED if name in known else Source.MISSING, dtype=np.int8)
        for name in VARIABLES
    }
    derive_mean(values, sources)
    return DailyWeather(start, values, sources, origin="invented weather")


def sample_weather() -> DailyWeather:
    """Return the weather of the sample yard: the days up to its today, 3 May 2027."""
    return invented_weather(date(2006, 1, 1), date(2027, 5, 2), seed=2)


def _remember(value: float, memory: float, random: Random) -> float:
    """Return tomorrow's value of a swing of unit variance that forgets."""
    return memory * value + math.sqrt(1.0 - memory**2) * random.gauss(0.0, 1.0)


def _shift_odds(chance: float, shift: float) -> float:
    """Return a chance whose logarithmic odds are moved."""
    odds = chance / (1.0 - chance) * math.exp(shift)
    return odds / (1.0 + odds)


def _day_temperature(
    day: date, wet: bool, deviation: float, climate: Climate
) -> tuple[float, float]:
    """Return one day's mean temperature and mean range. [degC]"""
    since_coldest = day.timetuple().tm_yday - climate.coldest_day
    summer = _season(since_coldest)
    mean = climate.mean - climate.swing * (1.0 - 2.0 * summer)
    mean += deviation * _between(
        climate.deviation_winter, climate.deviation_summer, _season(since_coldest - climate.lag)
    )
    spread = _between(
        climate.range_winter, climate.range_summer, _season(since_coldest + climate.lag)
    )
    if wet:
        mean -= _between(climate.wet_cooler_winter, climate.wet_cooler_summer, summer)
        spread *= climate.wet_range
    return mean, spread


def _season(days: float) -> float:
    """Return how far the year has gone from deepest winter, 0, to high summer, 1."""
    return (1.0 - math.cos(2.0 * math.pi * days / 365.25)) / 2.0


def _between(winter: float, summer: float, share: float) -> float:
    return winter + (summer - winter) * share
