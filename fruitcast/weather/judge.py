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

from fruitcast.topics import WeatherDoubts
from fruitcast.weather.daily import DailyWeather, FloatArray, Source
from fruitcast.weather.fill import count_days, list_days

_YEAR = 366
_BLOCK = 30
_FEWEST_KNOWN = 20
LAST_DAYS = 60
"""Days before today that are held against all before them. [day]"""

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Question:
    """What is odd in a table, and what it most likely is."""

    problem: str
    cause: str

    def __str__(self) -> str:
        return f"{self.problem}. {self.cause}"


@dataclass(frozen=True)
class Normals:
    """What is usual on each day of the year, from 1 January on, in a record.

    Attributes
    ----------
    tmean, spread : (366,) float array
        Mean and standard deviation of daily mean temperature within a fortnight; NaN where too
        few days are known. [degC]
    years : (366,) float array
        How many years know it. [year]
    wet : (366,) float array
        Mean rain of days with rain within six weeks; NaN where too few are known. [mm/day]
    most : float
        The largest fall of one day; NaN where none is known. [mm/day]
    tenths : bool
        Whether rain is given to the tenth of a millimetre and no finer.
    """

    tmean: FloatArray
    spread: FloatArray
    years: FloatArray
    wet: FloatArray
    most: float
    tenths: bool


def normals_of(known: DailyWeather) -> Normals:
    """Return what is usual in a record, as it was observed."""
    at = _days_of_year(known)
    warm = (known.sources["tmean"] == Source.OBSERVED) & np.isfinite(known.tmean)
    days, first, second = (
        _around(np.bincount(at[warm], weights=known.tmean[warm] ** power, minlength=_YEAR), 15)
        for power in (0, 1, 2)
    )
    wet = (known.sources["rain"] == Source.OBSERVED) & (np.nan_to_num(known.rain) > 0.0)
    falls, fallen = (
        _around(np.bincount(at[wet], weights=known.rain[wet] ** power, minlength=_YEAR), 45)
        for power in (0, 1)
    )
    rain = known.rain[wet]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(days >= _FEWEST_KNOWN, first / days, np.nan)
        spread = np.sqrt(np.maximum(second / days - mean**2, 0.0))
        usual = np.where(falls >= _FEWEST_KNOWN, fallen / falls, np.nan)
    return Normals(
        mean,
        spread,
        days / 31.0,
        usual,
        float(rain.max()) if len(rain) >= _FEWEST_KNOWN else np.nan,
        len(rain) >= _FEWEST_KNOWN and float(_finer_than_tenths(rain).mean()) < 0.02,
    )


def questions(
    weather: DailyWeather,
    limits: WeatherDoubts,
    *,
    known: DailyWeather | None = None,
    latitude: float | None = None,
) -> tuple[Question, ...]:
    """Return what to ask about a table before it is believed.

    Parameters
    ----------
    weather : DailyWeather
        The table, as it was read.
    limits : WeatherDoubts
        What is doubted: `numbers.doubt.weather`.
    known : DailyWeather or None
        The yard's own past weather, whatever days it has in common with the table.
    latitude : float or None
        Of the yard, if that is known. [degree, north positive]
    """
    usual = None if known is None else normals_of(known)
    found = [_of_rows(weather), _of_running_totals(weather), _of_exchanged(weather)]
    warmth = None if usual is None else _of_temperature(weather, usual, limits)
    if warmth is None and latitude is not None:
        warmth = _of_latitude(weather, usual, latitude, limits)
    found.append(warmth or _of_daily_range(weather, limits))
    if found[1] is None:
        found += [_of_rain(weather, usual, limits), _of_one_day(weather, usual, limits)]
    if usual is not None and warmth is None:
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
                off = np.nan_to_num(part.tmean - usual.tmean[_days_of_year(part)])
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


def _of_rows(weather: DailyWeather) -> Question | None:
    """Ask about a table whose rows lie further apart than a day."""
    told = np.zeros(weather.days, dtype=bool)
    for column in weather.values.values():
        told |= np.isfinite(column)
    gaps = np.diff(np.flatnonzero(told))
    if not len(gaps) or (np.median(gaps) < 2 if len(gaps) > 2 else gaps.min() < 7):
        return None
    apart = int(np.median(gaps))
    name = "weekly" if apart == 7 else "monthly" if 28 <= apart <= 31 else "no daily"
    return Question(
        f"its rows are {apart} days apart",
        f"This looks like {name} weather, whose rain is the sum of several days: download daily "
        "values",
    )


def _of_exchanged(weather: DailyWeather) -> Question | None:
    """Ask about days up to the 12th that are as warm as with day and month exchanged.

    How warm each month is, the days after the 12th tell, which can't be exchanged.
    """
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    months = days.astype("datetime64[M]").astype(int)
    day = (days - days.astype("datetime64[M]")).astype(int) + 1
    months, swapped = months - months.min(), months - months % 12 + day - 1 - months.min()
    known = np.isfinite(weather.tmean)
    sure = known & (day > 12)
    counts = np.bincount(months[sure], minlength=months.max() + 12)
    sums = np.bincount(months[sure], weights=weather.tmean[sure], minlength=months.max() + 12)
    with np.errstate(invalid="ignore"):
        mean = np.where(counts >= 8, sums / counts, np.nan)
    open_ = known & (day <= 12) & (swapped >= 0) & (swapped != months)
    there = np.where(open_, swapped, 0)
    as_read = np.where(open_, weather.tmean - mean[months], np.nan) ** 2
    turned = np.where(open_, weather.tmean - mean[there], np.nan) ** 2
    both = np.isfinite(as_read) & np.isfinite(turned)
    if both.sum() < 20 or as_read[both].mean() < 1.5 * turned[both].mean():
        return None
    return Question(
        f"on {count_days(int(both.sum()))} up to the 12th of a month it is as warm as with day and "
        "month exchanged, and after the 12th it is not",
        "A spreadsheet seems to have taken these for dates with day and month exchanged: download "
        "the table again and write dates as YYYY-MM-DD",
    )


def _of_running_totals(weather: DailyWeather) -> Question | None:
    """Ask about rain that grows from day to day, as a gauge's month or year so far does."""
    rain = weather.rain
    before, after = rain[:-1], rain[1:]
    with np.errstate(invalid="ignore"):
        both = np.isfinite(before) & np.isfinite(after) & (before > 0.0)
        pairs = int(both.sum())
        fell = int((both & (after < before)).sum())
        same = int((both & (after == before)).sum())
        rose = int((both & (after > before)).sum())
    short = pairs >= 3 and not fell and same >= 1 and rose >= 1
    long = pairs >= 10 and fell <= 0.25 * pairs and rose >= 1
    # A week's total falls back on one weekday only, however often it rains.
    falls = np.flatnonzero(both & (np.nan_to_num(after) < np.nan_to_num(before)))
    weekly = fell >= 3 and rose >= 1 and same >= 1 and len(np.unique(falls % 7)) == 1
    if not (short or long or weekly):
        return None
    return Question(
        f"rain falls back on only {fell} of {pairs} days after one with rain",
        "This looks like a running total, the rain of the week, month or year so far: take the "
        "column of each day's rain",
    )


def _of_temperature(
    weather: DailyWeather, usual: Normals, limits: WeatherDoubts
) -> Question | None:
    """Ask about temperatures that are not those of the same calendar days as known."""
    at = _days_of_year(weather)
    off, chance = _blocks(weather, weather.tmean - usual.tmean[at], usual, limits)
    if not _too_many(off, chance, limits):
        return None
    causes = {
        "Fahrenheit": ((weather.tmean - 32.0) / 1.8, usual.tmean[at]),
        "tenths of C": (weather.tmean / 10.0, usual.tmean[at]),
        "Celsius": (weather.tmean * 1.8 + 32.0, usual.tmean[at]),
        "whole": (weather.tmean * 10.0, usual.tmean[at]),
        "half a year": (weather.tmean, usual.tmean[(at + _YEAR // 2) % _YEAR]),
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
    "tenths of C": "They look like tenths of C: say --units tenths",
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
    at = _days_of_year(weather)
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
    at = _days_of_year(weather)
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
    at = _days_of_year(weather)
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


def _allowed(
    at: npt.NDArray[np.int64], latitude: float, limits: WeatherDoubts
) -> tuple[FloatArray, ...]:
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


def _of_daily_range(weather: DailyWeather, limits: WeatherDoubts) -> Question | None:
    """Ask about days whose lowest and highest temperature lie further apart than anywhere."""
    spans = (weather.tmax - weather.tmin)[np.isfinite(weather.tmax - weather.tmin)]
    if not len(spans):
        return None
    span = float(spans.mean())
    if len(spans) < 20:
        # On a rainy day the temperature hardly moves: these are the extremes of several.
        wet = float((np.nan_to_num(weather.rain) > 1.0).sum()) > 0.5 * len(spans)
        if len(spans) < 2 or not wet or span <= limits.daily_range:
            return None
        cause = "They look like the extremes of a week or a month: take the table of days"
    elif span > limits.daily_range:
        cause = _CAUSES["Fahrenheit"]
    elif span < limits.least_daily_range and len(spans) >= 60:
        cause = _CAUSES["whole"]
    else:
        return None
    return Question(f"the day's highest is on average {span:.1f} C above its lowest", cause)


def _of_rain(
    weather: DailyWeather, usual: Normals | None, limits: WeatherDoubts
) -> Question | None:
    """Ask about rain whose days with any have far more or less of it than can be."""
    wet = np.nan_to_num(weather.rain) > 0.0
    falls = weather.rain[wet]
    if not len(falls):
        return None
    whole = len(falls) >= 5 and bool((falls == np.round(falls)).all())
    finer = float(_finer_than_tenths(falls).mean()) > 0.3
    mean = float(falls.mean())
    expected = np.array([]) if usual is None else usual.wet[_days_of_year(weather)][wet]
    expected = expected[np.isfinite(expected)]
    if len(expected) == len(falls):
        ratio = mean / float(expected.mean())
        many = limits.rain_times * (0.43 if len(falls) >= 30 else 0.6 if len(falls) >= 12 else 1.0)
        if whole and usual is not None and usual.tenths:
            many = min(many, 1.4)
        enough = len(falls) >= 5 or (finer and usual is not None and usual.tenths)
        enough |= len(falls) >= 2 and ratio > 2.5 * many
        if not enough or 1.0 / many < ratio < many:
            return None
        words = f"against {expected.mean():.1f} mm on the same calendar days of what is known"
        little = ratio < 1.0
    else:
        little = mean < limits.least_wet_day * (1.0 if finer else 0.7)
        much = mean > limits.most_wet_day * (0.3 if whole and len(falls) >= 8 else 1.0)
        if not (little and len(falls) >= (5 if finer else 10)) and not (much and len(falls) >= 2):
            return None
        words = f"over {count_days(len(falls))}"
    cause = (
        "They look like inches or cm taken for mm: say --units us, or put the unit into the title "
        "(rain_in, rain_cm)"
        if little
        else "They look like mm taken for inches, or tenths of mm or points taken for mm: put the "
        "unit into the title (rain_mm, Rain (points)), or say --units metric or tenths"
    )
    return Question(f"days with rain have {mean:.2g} mm on average, {words}", cause)


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
    at = _days_of_year(weather)
    with np.errstate(invalid="ignore"):
        limit = np.maximum(limits.day_off, 4.5 * usual.spread[at])
        return np.abs(weather.tmean - usual.tmean[at]) > limit


def _odd_rain(weather: DailyWeather, usual: Normals | None, limits: WeatherDoubts) -> BoolArray:
    limit = limits.most_rain
    if usual is not None and usual.most == usual.most:
        limit = min(limit, max(limits.rain_of_record * usual.most, 0.25 * limit))
    with np.errstate(invalid="ignore"):
        return np.asarray(weather.rain > limit)


def _finer_than_tenths(rain: FloatArray) -> BoolArray:
    return np.asarray(np.abs(rain * 10.0 - np.round(rain * 10.0)) > 1e-6)


def _mean(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else np.nan


def _days_of_year(weather: DailyWeather) -> npt.NDArray[np.int64]:
    """Return each row's day of the year, 0 for 1 January."""
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    found: npt.NDArray[np.int64] = (days - days.astype("datetime64[Y]")).astype(np.int64)
    return found


def _around(sums: npt.NDArray[np.generic], reach: int) -> FloatArray:
    """Return sums over the days of the year within `reach` days, round the turn of the year."""
    ring = np.concatenate([sums[-reach:], sums, sums[:reach]])
    return np.convolve(ring, np.ones(2 * reach + 1), mode="valid")
