"""Whether a table that can be read can also be true: what a careful person would ask about.

Units that a title does not name, the dates of the other half of the year, running totals taken
for each day's rain: all of them give numbers that look like weather. They show when they are held
against the same calendar days of what is known, or for a new yard against what its latitude
allows. What is found here is asked about and never mended.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.tables.faults import Question
from fruitcast.topics import WeatherDoubts
from fruitcast.weather.daily import YEAR, DailyWeather, Source
from fruitcast.weather.own_signs import (
    of_copied_days,
    of_dry_stretches,
    of_exchanged_dates,
    of_stray_days,
    questions_of_instruments,
    questions_of_sums,
)
from fruitcast.weather.table import count_days, list_days
from fruitcast.weather.units import TITLES

_BLOCK = 30
_MANY_FALLS = 60
"""Days with rain from which cm taken for inches show. Judgement. [day]"""

_SEASON = 90
_USUALLY_WET, _LEAST_WET = 12.0, 0.15
"""Days that usually have rain from which it is missed, and the share of them that is too few.
Judgement. [day], [0..1]"""

LAST_DAYS = 60
"""Days before today that are held against all before them. [day]"""


def questions(
    weather: DailyWeather,
    limits: WeatherDoubts,
    *,
    known: DailyWeather | None = None,
    latitude: float | None = None,
    rain_unit_named: bool = True,
) -> tuple[Question, ...]:
    """Return what to ask about a table, as it was read, before it is believed.

    It is held against the yard's own past weather, whatever days they have in common, and its
    latitude [degree, north positive], as far as they are `known`; `rain_unit_named` says whether
    a title or an option names the unit of rain.
    """
    usual = None if known is None else normals_of(known)
    sums = questions_of_sums(weather)
    found: list[Question | None] = [*sums, *questions_of_instruments(weather)]
    found.append(of_copied_days(weather, known))
    found += [of_stray_days(weather, known), of_exchanged_dates(weather)]
    temperature = None if usual is None else _of_temperature(weather, usual, limits)
    if temperature is None and latitude is not None:
        temperature = _of_latitude(weather, usual, latitude, limits)
    found.append(temperature or _of_daily_range(weather, usual, limits))
    if not sums:
        found.append(_of_rain(weather, usual, limits, rain_unit_named))
        found.append(_of_one_day(weather, usual, limits))
        found.append(_of_drought(weather, usual) or of_dry_stretches(weather))
    if usual is not None and temperature is None:
        found.append(_of_odd_days(weather, usual, limits))
    return tuple(question for question in found if question is not None)


def set_aside(weather: DailyWeather, today: date, limits: WeatherDoubts) -> DailyWeather:
    """Return a record without the days that nobody would believe beside the rest of it.

    The last two months, on which a plan rests, are held against what was before them, so that a
    run of bad days can't speak for itself. They are named in `doubtful`; older days are told in
    a note only.
    """
    odd = _odd(weather, normals_of(weather), limits)
    recent = weather.index(today - timedelta(days=LAST_DAYS))
    if 0 < recent < weather.days:
        last = weather.cut(weather.day(recent), weather.end + timedelta(days=1))
        before = weather.cut(weather.start, weather.day(recent))
        usual = normals_of(before)
        odd[recent:] = _odd(last, usual, limits)
        for days in (LAST_DAYS, _BLOCK, 7):
            part = last.cut(max(last.start, today - timedelta(days=days)), today)
            if part.days and _of_temperature(part, usual, limits) is not None:
                off = np.nan_to_num(part.tmean - usual.tmean[days_of_year(part)])
                at = weather.index(part.start)
                odd[at : at + part.days] |= off * np.sign(off.mean()) > limits.day_off * 0.75
    if not odd.any():
        return weather
    rows = np.flatnonzero(odd).tolist()
    note = (
        f"{count_days(len(rows))} of {weather.origin or 'the weather'} can hardly be right and "
        f"were set aside: {list_days(weather, odd, 3)}. The rest is used; a rain gauge of your own "
        "('fruitcast record rain') or a weather file would fill the gap."
    )
    return replace(
        weather,
        values={name: np.where(odd, np.nan, column) for name, column in weather.values.items()},
        sources={
            name: np.where(odd, Source.MISSING, column).astype(np.int8)
            for name, column in weather.sources.items()
        },
        notes=(*weather.notes, note),
        doubtful=tuple(weather.day(row) for row in rows if row >= recent),
    )


def _odd(weather: DailyWeather, usual: Normals, limits: WeatherDoubts) -> BoolArray:
    return _odd_warmth(weather, usual, limits) | _odd_rain(weather, usual, limits)


def _of_temperature(
    weather: DailyWeather, usual: Normals, limits: WeatherDoubts
) -> Question | None:
    """Ask about temperatures that are not those of the same calendar days as known."""
    at = days_of_year(weather)
    off, chance = _blocks(weather, weather.tmean - usual.tmean[at], usual, limits)
    if not _too_many(off, chance, limits):
        return None
    causes = {
        "Fahrenheit": ((weather.tmean - 32.0) / 1.8, usual.tmean[at]),
        "tenths of C": (weather.tmean / 10.0, usual.tmean[at]),
        "Celsius": (weather.tmean * 1.8 + 32.0, usual.tmean[at]),
        "whole": (weather.tmean * 10.0, usual.tmean[at]),
        "half a year": (weather.tmean, usual.tmean[(at + YEAR // 2) % YEAR]),
    }
    fits = {}
    for cause, (values, expected) in causes.items():
        other, chance = _blocks(weather, values - expected, usual, limits)
        left = float(np.abs(other).mean())
        if not _too_many(other, chance, limits) and left < 0.35 * float(np.abs(off).mean()):
            fits[cause] = left
    worst = float(off[np.argmax(np.abs(off))])
    return Question(
        f"temperatures are up to {abs(worst):.0f} C {'warmer' if worst > 0 else 'colder'}, over "
        f"{count_days(min(_BLOCK, weather.days))}, than the same calendar days of what is known",
        _CAUSES[min(fits, key=lambda cause: fits[cause]) if fits else ""],
    )


_CAUSES = {
    "Fahrenheit": "They look like Fahrenheit taken for Celsius: say --units us, or put the units "
    "into the titles (tmin_f, tmax_f, rain_in)",
    "tenths of C": "They look like tenths of C: put the units into the titles "
    f"({TITLES['tenths']}), or say them to 'fruitcast weather import' with --units tenths",
    "Celsius": "They look like Celsius taken for Fahrenheit: say --units metric, or put the "
    "units into the titles (tmin_c, tmax_c, rain_mm)",
    "whole": "They look like C taken for tenths of C: say --units metric, or put the units into "
    "the titles (tmin_c, tmax_c, rain_mm)",
    "half a year": "They look like the other half of the year, as if of the other half of the "
    "globe or with wrong dates: see whose weather it is",
    "": "This looks like the weather of another place or of other dates: see whose weather it is",
}


def _blocks(
    weather: DailyWeather, off: FloatArray, usual: Normals, limits: WeatherDoubts
) -> tuple[FloatArray, FloatArray]:
    """Return how far off each month of a table is, and how far it may be by chance.

    The last of both is the table as a whole. Temperature has a memory of some days, so that
    several count for one.
    """
    at = days_of_year(weather)
    spread, years = usual.spread[at], usual.years[at]
    means, chance = [], []
    parts = [slice(first, first + _BLOCK) for first in range(0, weather.days, _BLOCK)]
    for part in [*parts, slice(None)]:
        there = np.isfinite(off[part])
        days = int(there.sum())
        if not days:
            continue
        apart = limits.spreads * float(spread[part][there].mean())
        least = limits.off * (1.0 if days > 3 * _BLOCK else 1.5)
        sure = np.sqrt(1.0 + 1.0 / float(years[part][there].mean()))
        independent = max(days / limits.memory, 1.0)
        means.append(float(off[part][there].mean()))
        chance.append(max(sure * apart / np.sqrt(independent), least))
    return np.array(means), np.array(chance)


def _too_many(off: FloatArray, chance: FloatArray, limits: WeatherDoubts) -> bool:
    """Return whether so many months are off, or one so far, that it is no chance."""
    if not len(off):
        return False
    odd = np.abs(off) > chance
    far = np.abs(off) > np.maximum(limits.day_off * 0.75, 1.5 * chance)
    return bool(odd[-1] or far.any() or odd.sum() > 1 + len(off) // 6)


def _of_latitude(
    weather: DailyWeather, usual: Normals | None, latitude: float, limits: WeatherDoubts
) -> Question | None:
    """Ask about temperatures that no place of this latitude has at that time of the year."""
    tmean = weather.tmean.copy()
    at = days_of_year(weather)
    if usual is not None:
        tmean[np.isfinite(usual.tmean[at])] = np.nan
    coldest, warmest = _allowed(at, latitude, limits)
    for first in range(0, weather.days, _BLOCK):
        part = slice(first, first + _BLOCK)
        there = np.isfinite(tmean[part])
        if not there.any():
            continue
        slack = 0.0 if there.sum() >= 10 else 8.0
        mean = float(tmean[part][there].mean())
        low = float(coldest[part][there].mean()) - slack
        high = float(warmest[part][there].mean()) + slack
        if low <= mean <= high:
            continue
        return Question(
            f"the days from {weather.day(first)} on are at {mean:.0f} C on average, and at "
            f"latitude {latitude:g} they can be at {low:.0f} to {high:.0f} C",
            _cause_by_latitude(weather, latitude, limits),
        )
    return None


def _cause_by_latitude(weather: DailyWeather, latitude: float, limits: WeatherDoubts) -> str:
    at = days_of_year(weather)
    here = _allowed(at, latitude, limits)
    readings = {
        "Fahrenheit": ((weather.tmean - 32.0) / 1.8, here),
        "tenths of C": (weather.tmean / 10.0, here),
        "Celsius": (weather.tmean * 1.8 + 32.0, here),
        "half a year": (weather.tmean, _allowed(at, -latitude, limits)),
    }
    order = (
        ("half a year", "Fahrenheit", "tenths of C", "Celsius")
        if _mean(weather.tmean) < 30.0
        else tuple(readings)
    )
    for cause in order:
        values, (low, high) = readings[cause]
        there = np.isfinite(values)
        if float(((values < low - 8.0) | (values > high + 8.0))[there].mean()) < 0.05:
            return _CAUSES[cause]
    return _CAUSES[""]


def _allowed(at: IntArray, latitude: float, limits: WeatherDoubts) -> tuple[FloatArray, ...]:
    """Return how cold and how warm a month can be on days of the year. [degC]"""
    away = abs(latitude)
    summer = (1.0 - np.cos(2.0 * np.pi * (at - 20) / 365.25)) / 2.0
    if latitude < 0:
        summer = 1.0 - summer
    cold = (-limits.coldest_fall * away, limits.coldest_summer)
    warm = (
        limits.warmest_winter - 0.45 * max(away - 15.0, 0.0),
        limits.warmest_summer - 0.35 * max(away - 30.0, 0.0),
    )
    return tuple(winter + (high - winter) * summer for winter, high in (cold, warm))


def _of_daily_range(
    weather: DailyWeather, usual: Normals | None, limits: WeatherDoubts
) -> Question | None:
    """Ask about days whose lowest and highest temperature lie further apart than anywhere."""
    spans = weather.tmax - weather.tmin
    there = np.isfinite(spans)
    if not there.any():
        return None
    span = float(spans[there].mean())
    days = int(there.sum())
    expected = np.nan if usual is None else _mean(usual.span[days_of_year(weather)][there])
    cause = ""
    if days < FEWEST_KNOWN:
        # On a rainy day the temperature hardly moves: these are the extremes of several.
        wet = float((np.nan_to_num(weather.rain[there]) > 1.0).sum()) > 0.5 * days
        if days >= 2 and wet and span > limits.daily_range:
            cause = "They look like the extremes of a week or a month: take the table of days"
    elif span > max(limits.daily_range, 1.5 * np.nan_to_num(expected)):
        cause = _CAUSES["Fahrenheit"]
    elif span < limits.least_daily_range:
        cause = f"{_CAUSES['whole']}. Or see whether the sensor was indoors"
    elif span < expected / limits.span_times:
        cause = "One of the two looks like a mean, or the sensor was indoors: see what they are"
    elif span > expected * limits.span_times:
        cause = "They look like the extremes of several days: take the table of days"
    if cause:
        words = f"the day's highest is on average {span:.1f} C above its lowest"
        if expected == expected:
            words += f", {expected:.1f} C on the same calendar days of what is known"
        return Question(words, cause)
    return _of_wide_days(weather, limits)


def _of_wide_days(weather: DailyWeather, limits: WeatherDoubts) -> Question | None:
    """Ask about single days whose lowest and highest temperature lie too far apart."""
    spans = weather.tmax - weather.tmin
    with np.errstate(invalid="ignore"):
        middle = float(np.median(spans[np.isfinite(spans)])) if np.isfinite(spans).any() else 0.0
        wide = np.asarray(spans > 2.0 * max(limits.daily_range, middle))
    if not wide.any():
        return None
    most = float(np.nanmax(spans))
    return Question(
        f"the highest is up to {most:.0f} C above the lowest temperature, on "
        f"{list_days(weather, wide, 3)}",
        "This looks like a slip of the pen, another unit or a code for a missing value: correct "
        "it, or leave the cell empty if nobody knows",
    )


def _of_rain(
    weather: DailyWeather, usual: Normals | None, limits: WeatherDoubts, unit_named: bool
) -> Question | None:
    """Ask about rain whose days with any have far more or less of it than can be."""
    wet = np.nan_to_num(weather.rain) > 0.0
    falls = weather.rain[wet]
    if not len(falls):
        return None
    whole = len(falls) >= 3 and bool((falls == np.round(falls)).all())
    finer = float(finer_than_tenths(falls).mean()) > 0.3
    mean = float(falls.mean())
    expected = np.array([]) if usual is None else usual.wet[days_of_year(weather)][wet]
    expected = expected[np.isfinite(expected)]
    if whole and not unit_named and usual is not None and usual.tenths:
        return Question(
            f"rain is in whole numbers of no unit on {count_days(len(falls))} with any, and what "
            "is known is to the tenth of a millimetre",
            _MUCH,
        )
    if len(expected) == len(falls):
        ratio = mean / float(expected.mean())
        many = limits.rain_times * (0.43 if len(falls) >= 30 else 0.6 if len(falls) >= 12 else 1.0)
        if whole and usual is not None and usual.tenths:
            many = min(many, 1.4)
        if finer and usual is not None and usual.tenths and not unit_named:
            many = min(many, 2.5)
        enough = len(falls) >= 5 or (finer and usual is not None and usual.tenths)
        enough |= len(falls) >= 2 and ratio > 2.5 * many
        near = 1.0 / many < ratio < many and not _all_through(weather, usual, ratio, limits)
        if not enough or near:
            return None
        words = f"against {expected.mean():.1f} mm on the same calendar days of what is known"
        little = ratio < 1.0
    else:
        little = mean < limits.least_wet_day * (1.0 if finer else 0.7)
        # Whole numbers of no unit may be points, hundredths of an inch.
        points = whole and len(falls) >= (8 if unit_named else 3)
        much = mean > limits.most_wet_day * (1.0 if not points else 0.3 if unit_named else 0.18)
        if not (little and len(falls) >= (5 if finer else 10)) and not (much and len(falls) >= 2):
            return None
        words = f"over {count_days(len(falls))}"
    cause = (
        "They look like inches or cm taken for mm: say --units us, or put the unit into the title "
        "(rain_in, rain_cm)"
        if little
        else _MUCH
    )
    return Question(f"days with rain have {mean:.2g} mm on average, {words}", cause)


def _of_drought(weather: DailyWeather, usual: Normals | None) -> Question | None:
    """Ask about rain on hardly any of the days that usually have some, in any season."""
    there = np.isfinite(weather.rain)
    if usual is None or not there.any():
        return None
    share = np.where(there, np.nan_to_num((usual.rain / usual.wet)[days_of_year(weather)]), 0.0)
    wet = np.nan_to_num(weather.rain) > 0.0
    for first in range(0, max(weather.days - _SEASON, 0) + 1, _BLOCK):
        part = slice(first, first + _SEASON)
        days, expected = int(wet[part].sum()), float(share[part].sum())
        if expected >= _USUALLY_WET and days <= _LEAST_WET * expected:
            return Question(
                f"from {weather.day(first)} on it rained on {count_days(days)}, and in other years "
                f"on {expected:.0f} of them",
                "This looks like a gauge that is blocked, or the rain of whole weeks or months on "
                "one day: leave the cells empty if nobody knows",
            )
    return None


_MUCH = (
    "They look like mm taken for inches, or tenths of mm or points taken for mm: put the unit into "
    "the title (rain_mm, Rain (points)), or say --units metric or tenths"
)


def _all_through(
    weather: DailyWeather, usual: Normals | None, ratio: float, limits: WeatherDoubts
) -> bool:
    """Return whether a long table has too much or too little rain, by the fall and by the day."""
    gauged = np.isfinite(weather.rain)
    if usual is None or (np.nan_to_num(weather.rain) > 0.0).sum() < _MANY_FALLS:
        return False
    daily = _mean(weather.rain[gauged]) / _mean(usual.rain[days_of_year(weather)][gauged])
    most = 0.3 * limits.rain_times
    return bool(max(ratio, daily) < 1.0 / most or min(ratio, daily) > most)


def _of_one_day(
    weather: DailyWeather, usual: Normals | None, limits: WeatherDoubts
) -> Question | None:
    odd = _odd_rain(weather, usual, limits)
    if not odd.any():
        return None
    most = float(np.nanmax(weather.rain))
    known = "" if usual is None or np.isnan(usual.most) else f", {usual.most:.0f} mm known so far"
    return Question(
        f"rain of {most:.0f} mm in one day, on {list_days(weather, odd, 3)}{known}",
        "This looks like a slip, a code for a missing value or the sum of several days: correct "
        "it, or leave the cell empty if nobody knows",
    )


def _of_odd_days(weather: DailyWeather, usual: Normals, limits: WeatherDoubts) -> Question | None:
    odd = _odd_warmth(weather, usual, limits)
    if not odd.any():
        return None
    return Question(
        f"temperatures of {count_days(int(odd.sum()))} are far from what those calendar days have "
        f"had, {list_days(weather, odd, 3)}",
        "This looks like a slip of the pen or another unit on some days: correct them, or leave "
        "the cells empty if nobody knows",
    )


def _odd_warmth(weather: DailyWeather, usual: Normals, limits: WeatherDoubts) -> BoolArray:
    at = days_of_year(weather)
    with np.errstate(invalid="ignore"):
        limit = np.maximum(limits.day_off, 4.5 * usual.spread[at])
        # Nights and afternoons swing a little more than the day's mean.
        half = usual.span[at] / 2.0
        low = weather.tmin - usual.tmean[at] + half
        high = weather.tmax - usual.tmean[at] - half
        odd = np.abs(weather.tmean - usual.tmean[at]) > limit
        return odd | (np.maximum(np.abs(low), np.abs(high)) > 1.2 * limit)


def _odd_rain(weather: DailyWeather, usual: Normals | None, limits: WeatherDoubts) -> BoolArray:
    limit = limits.most_rain
    if usual is not None and usual.most == usual.most:
        limit = min(limit, max(limits.rain_of_record * usual.most, 0.25 * limit))
    with np.errstate(invalid="ignore"):
        return np.asarray(weather.rain > limit)


def _mean(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else np.nan


# What is usual at a place on each day of the year, as a record has it.

FEWEST_KNOWN = 20
"""Days from which something is said of what is usual. [day]"""


@dataclass(frozen=True)
class Normals:
    """What is usual on each day of the year, from 1 January on, in a record."""

    # (366,): mean and standard deviation of daily mean temperature within a fortnight; NaN where
    # too few days are known [degC]
    tmean: FloatArray
    spread: FloatArray
    years: FloatArray  # (366,): how many years know it [year]
    # (366,): mean of highest less lowest temperature within a fortnight; NaN where too few days
    # are known [degC]
    span: FloatArray
    # (366,): mean rain of days with rain, and of all days, within six weeks; NaN where too few
    # are known [mm/day]
    wet: FloatArray
    rain: FloatArray
    most: float  # the largest fall of one day; NaN where none is known [mm/day]
    tenths: bool  # whether rain is given to the tenth of a millimetre and no finer


def normals_of(known: DailyWeather) -> Normals:
    """Return what is usual in a record, as it was observed."""
    at = days_of_year(known)
    warm = (known.sources["tmean"] == Source.OBSERVED) & np.isfinite(known.tmean)
    days, first, second = (
        _around(np.bincount(at[warm], weights=known.tmean[warm] ** power, minlength=YEAR), 15)
        for power in (0, 1, 2)
    )
    spans = np.where(warm, known.tmax - known.tmin, np.nan)
    both = np.isfinite(spans)
    told, apart = (
        _around(np.bincount(at[both], weights=spans[both] ** power, minlength=YEAR), 15)
        for power in (0, 1)
    )
    gauged = (known.sources["rain"] == Source.OBSERVED) & np.isfinite(known.rain)
    gauge_days = _around(np.bincount(at[gauged], minlength=YEAR), 45)
    wet = gauged & (np.nan_to_num(known.rain) > 0.0)
    falls, fallen = (
        _around(np.bincount(at[wet], weights=known.rain[wet] ** power, minlength=YEAR), 45)
        for power in (0, 1)
    )
    rain = known.rain[wet]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(days >= FEWEST_KNOWN, first / days, np.nan)
        spread = np.sqrt(np.maximum(second / days - mean**2, 0.0))
        span = np.where(told >= FEWEST_KNOWN, apart / told, np.nan)
        usual = np.where(falls >= FEWEST_KNOWN, fallen / falls, np.nan)
        daily = np.where(gauge_days >= FEWEST_KNOWN, fallen / gauge_days, np.nan)
    return Normals(
        mean,
        spread,
        days / 31.0,
        span,
        usual,
        daily,
        float(rain.max()) if len(rain) >= FEWEST_KNOWN else np.nan,
        len(rain) >= FEWEST_KNOWN and float(finer_than_tenths(rain).mean()) < 0.02,
    )


def finer_than_tenths(rain: FloatArray) -> BoolArray:
    """Return where rain is told finer than to the tenth of a millimetre."""
    return np.asarray(np.abs(rain * 10.0 - np.round(rain * 10.0)) > 1e-6)


def days_of_year(weather: DailyWeather) -> IntArray:
    """Return each row's day of the year, 0 for 1 January."""
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    found: IntArray = (days - days.astype("datetime64[Y]")).astype(np.int64)
    return found


def _around(sums: npt.NDArray[np.generic], reach: int) -> FloatArray:
    """Return sums over the days of the year within `reach` days, round the turn of the year."""
    ring = np.concatenate([sums[-reach:], sums, sums[:reach]])
    return np.convolve(ring, np.ones(2 * reach + 1), mode="valid")
