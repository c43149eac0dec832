"""What the weather tells on a given day, and which past years can stand for the future."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.errors import Fault, FaultsError, WeatherGapError
from fruitcast.numbers import default_numbers
from fruitcast.weather.daily import (
    BY_STATION,
    LONGER_RECORD,
    NEEDED,
    TAKE_IN,
    VARIABLES,
    DailyWeather,
    Source,
    same_day,
)
from fruitcast.weather.table import count_days, derive_mean, fill_gaps, list_days, stretched

# Past days that nobody measured: the same calendar day of another year stands in.
#
# The policy for rain that is still missing in a usable year: it is never zero and never a mean
# (which would make every such day damp), but what fell on that calendar day in the nearest usable
# year that knows. So wet and dry days come as often as they do. The same serves for temperature in
# longer gaps, put right by how the days beside the gap differ from the other year's: days differ
# from one another as they do, and nothing jumps at the edges.

_WIDEST_SEARCH = 15
"""How many calendar days off a stand-in may lie when no year knows the very day. Judgement."""


def rain_for_members(weather: DailyWeather, years: Sequence[int], today: date) -> DailyWeather:
    """Return the weather with missing rain before `today` taken from the nearest usable year.

    Raises WeatherGapError if no usable year knows the rain within 15 days of that calendar day.
    """
    return _borrow(weather, ("rain",), years, today, "rain")


def complete_past(weather: DailyWeather, years: Sequence[int], today: date) -> DailyWeather:
    """Return the weather with every day before `today` known: rain and temperature.

    Late days that aren't known yet are put in as usual, and marked as awaited.

    Parameters and errors as in `rain_for_members`.
    """
    since = today - timedelta(days=late_days(weather, today))
    completed = _borrow(weather, ("tmin", "tmax"), years, since, "temperature")
    derive_mean(completed.values, completed.sources)
    return _as_usual(rain_for_members(completed, years, since), years, since, today)


def late_days(weather: DailyWeather, today: date) -> int:
    """Return how many days before `today`, one after the other, aren't wholly known yet. [day]"""
    known = weather.whole[: max(weather.index(today), 0)]
    rows = np.flatnonzero(known)
    return len(known) - (int(rows[-1]) + 1 if len(rows) else 0)


def _as_usual(
    weather: DailyWeather, years: Sequence[int], since: date, today: date
) -> DailyWeather:
    """Return the weather with what is usual on the days from one on that aren't known yet.

    The account up to today goes by it. Temperatures are the years' mean; rain is that of the year
    in which these days together had the middle amount: a mean would make every day damp, and the
    nearest year's would be its luck.
    """
    late = (today - since).days
    if not late:
        return weather
    firsts = np.array([weather.index(same_day(today, year)) - late for year in years])
    rows = np.maximum(firsts[:, None] + np.arange(late), 0)
    fallen = weather.rain[rows]
    middle = int(np.argsort(fallen.sum(axis=1), kind="stable")[(len(years) - 1) // 2])
    span = slice(weather.index(since), weather.index(today))
    cold = np.isnan(weather.tmin[span]) | np.isnan(weather.tmax[span])
    dry = np.isnan(weather.rain[span])
    values, sources = weather.copies()
    for name in ("tmin", "tmax", "tmean", "rain"):
        unknown = dry if name == "rain" else cold
        usual = fallen[middle] if name == "rain" else weather.values[name][rows].mean(axis=0)
        values[name][span] = np.where(unknown, usual, values[name][span])
        sources[name][span] = np.where(unknown, Source.AWAITED, sources[name][span])
    which = (
        f"The last day, {since}, isn't"
        if late == 1
        else f"The last {late} days, from {since} on, aren't"
    )
    note = f"{which} in the weather yet: each possible season takes its own."
    if late > LATE_DAYS_TOLD:
        note += (
            " So long ago the plan doesn't know what your logs have had since: take in newer "
            f"weather ({TAKE_IN}), or fetch the station's again ('fruitcast weather fetch')."
        )
    return replace(weather, values=values, sources=sources, notes=(*weather.notes, note))


def _borrow(
    weather: DailyWeather, names: tuple[str, ...], years: Sequence[int], today: date, what: str
) -> DailyWeather:
    values, sources = weather.copies()
    unknown = np.zeros(weather.days, dtype=bool)
    for name in names:
        unknown |= np.isnan(weather.values[name])
    unknown[max(weather.index(today), 0) :] = False
    rows = np.flatnonzero(unknown).tolist()
    known = ~unknown
    known[max(weather.index(today), 0) :] = False
    donors: dict[int, int] = {}
    for row in rows:
        donor = _donor(weather, weather.day(row), years, known)
        if donor is None:
            raise WeatherGapError(
                f"{weather.origin or 'The weather'}: no usable year knows the {what} around "
                f"{weather.day(row):%d %B}.",
                f"{LONGER_RECORD}.",
            )
        donors[row] = donor
        for name in names:
            values[name][row] = weather.values[name][donor]
            sources[name][row] = Source.FILLED
    if not rows:
        return replace(weather, values=values, sources=sources)
    about = f"{what} of {count_days(len(rows))}"
    shifted = ""
    if "tmin" in names:
        values["tmean"][rows] = np.nan
        shift = _shifts(weather, donors, known)
        for name in names:
            values[name][rows] = np.round(values[name][rows] + shift, 2)
        about += f" ({list_days(weather, unknown, 3)})"
        shifted = ", warmer or colder as the days beside the gap are"
    note = f"Missing {about} is that of the same calendar day in the nearest usable year{shifted}."
    return replace(weather, values=values, sources=sources, notes=(*weather.notes, note))


def _shifts(weather: DailyWeather, donors: Mapping[int, int], known: BoolArray) -> FloatArray:
    """Return by how much warmer each missing day is than the row that stands in for it. [degC]

    What sets the days beside a gap apart from those beside what stands in lasts into it from both
    sides, as departures do of which the share `forecast.persistence` is left after a day (the
    expectation of a first-order autoregression between two known values). So a filled day is as
    variable as others and follows on its neighbours: conditional simulation. With a share of 0.6
    or 0.8 gaps of 5 to 20 days that were hidden are filled about as well.
    """
    lasts = default_numbers().forecast.persistence
    middle = (weather.tmin + weather.tmax) / 2
    rows = np.array(list(donors))
    found = np.zeros(len(rows))

    def apart(row: int, step: int) -> float:
        here, there = row + step, donors[row] + step
        inside = min(here, there) >= 0 and max(here, there) < weather.days
        return float(middle[here] - middle[there]) if inside and known[[here, there]].all() else 0.0

    for gap in np.split(np.arange(len(rows)), np.flatnonzero(np.diff(rows) > 1) + 1):
        after, before = 1.0 + np.arange(len(gap)), len(gap) - np.arange(len(gap), dtype=float)
        whole = 1.0 - lasts ** (2 * (len(gap) + 1))
        found[gap] += apart(int(rows[gap[0]]), -1) * lasts**after * (1 - lasts ** (2 * before))
        found[gap] += apart(int(rows[gap[-1]]), 1) * lasts**before * (1 - lasts ** (2 * after))
        found[gap] /= whole
    return found


def _donor(weather: DailyWeather, day: date, years: Sequence[int], known: np.ndarray) -> int | None:
    """Return the row of the nearest usable year that knows this calendar day, or one near it."""
    nearest = sorted(years, key=lambda year: (abs(year - day.year), year))
    offsets = sorted(range(-_WIDEST_SEARCH, _WIDEST_SEARCH + 1), key=lambda o: (abs(o), o))
    for offset in offsets:
        for year in nearest:
            row = weather.index(same_day(day, year) + timedelta(days=offset))
            if 0 <= row < weather.days and known[row]:
                return row
    return None


# What the weather table tells on a given day, and which past years can stand for the future.

FORECAST_DAYS = 16
"""Days of forecast that are used at most; beyond, a forecast knows no more than past years do.
Judgement. [day]"""

RECENT_DAYS = 60
"""Days before today on which the state of the logs rests most. [day]"""

MOST_RECENT_MISSING = 3
"""How many of the recent days may be missing, those aside that the table hasn't reached yet.
Judgement. [day]"""

MOST_LATE_DAYS = 21
"""How many days the table may lag behind. Each possible season has its own weather there, so a
plan is only less sure; a soak's flush may come and go unseen in more. Judgement. [day]"""

LATE_DAYS_TOLD = 7
"""A table that lags behind more is asked for anew. Judgement. [day]"""

MOST_COLD_MISSING = 0.1
"""Share of a year's days that may lack temperature. Judgement: another year's days stand in, and
the years are to differ. [0..1]"""

MOST_RAIN_MISSING = 0.2
"""Share of a year's days that may lack rain. Judgement. [0..1]"""

FEWEST_YEARS, ENOUGH_YEARS = 3, 10
"""Fewer usable years than the first give no range at all, than the second no trustworthy one."""


def known_weather(
    weather: DailyWeather, today: date, days_ahead: int, gauge: Mapping[date, float]
) -> tuple[DailyWeather, tuple[int, ...]]:
    """Return all that planning may know of the weather, gaps closed, and the usable years.

    Every day from the table's first to yesterday has temperatures and rain; what was put in is
    flagged as filled, late days that aren't known yet as awaited, and both are told in the notes.
    Days from today on are forecasts, if there are any. Raises WeatherGapError as `usable_years`.
    """
    known = with_rain_gauge(as_known_on(weather, today), gauge, today)
    years, notes = usable_years(known, today, days_ahead)
    known = complete_past(fill_gaps(known), years, today)
    return replace(known, notes=(*known.notes, *notes)), years


def as_known_on(weather: DailyWeather, today: date) -> DailyWeather:
    """Return the weather that is known on the morning of `today`.

    Days from today on stay only where lowest, highest temperature and rain are all forecasts, in
    one run that begins today or, of a forecast made during the day, tomorrow; 16 days at most. The
    table always reaches to yesterday; days that it lacks there are missing, as is today before a
    forecast from tomorrow on. Raises WeatherGapError if the table has no day before today.
    """
    if weather.start >= today:
        raise WeatherGapError(
            f"{weather.origin or 'The weather'} begins on {weather.start}, but nothing from "
            f"{today} on is known yet. Give weather of past years, or check the date of today."
        )
    yesterday = today - timedelta(days=1)
    past = stretched(weather.cut(weather.start, today), weather.start, yesterday)
    coming = weather.cut(max(today, weather.start), weather.end + timedelta(days=1))
    forecast = np.ones(coming.days, dtype=bool)
    told = np.zeros(coming.days, dtype=bool)
    for name in NEEDED:
        forecast &= (coming.sources[name] == Source.FORECAST) & np.isfinite(coming.values[name])
        told |= np.isfinite(coming.values[name])
    run = forecast.copy()
    if coming.start == today:
        run[:1] |= forecast[1:2].any()
    kept = min(int(np.argmin(np.append(run, False))), FORECAST_DAYS)
    notes = list(weather.notes)
    left_out = told.copy()
    left_out[:kept] &= ~forecast[:kept]
    not_forecast = left_out & ~forecast
    if not_forecast.any():
        notes.append(
            f"{count_days(int(not_forecast.sum()))} dated {today} or later and not marked as "
            f"forecast were left out: {list_days(coming, not_forecast, 3)}."
        )
    if (left_out & forecast).any():
        notes.append(
            f"Of the forecast, {count_days(int((left_out & forecast).sum()))} past the first "
            f"{FORECAST_DAYS} or behind a gap were left out."
        )
    values, sources = {}, {}
    for name in VARIABLES:
        is_forecast = coming.sources[name][:kept] == Source.FORECAST
        ahead = np.where(is_forecast, coming.values[name][:kept], np.nan)
        values[name] = np.concatenate([past.values[name], ahead])
        code = np.where(is_forecast, Source.FORECAST, Source.MISSING).astype(np.int8)
        sources[name] = np.concatenate([past.sources[name], code])
    return replace(past, values=values, sources=sources, notes=tuple(notes))


def without_future(weather: DailyWeather, today: date) -> tuple[DailyWeather, list[str]]:
    """Return a table without what it claims was observed after today, and a note of it.

    Raises FaultsError if it does so of days that no forecast reaches, or of all its days: then its
    dates are wrong.
    """
    ahead = np.arange(weather.days) > weather.index(today)
    claimed = np.zeros(weather.days, dtype=bool)
    for name in VARIABLES:
        claimed |= ahead & (weather.sources[name] == Source.OBSERVED)
    if not claimed.any():
        return weather, []
    last = weather.day(int(np.flatnonzero(claimed)[-1]))
    if (last - today).days > FORECAST_DAYS or weather.start > today:
        problem = f"{count_days(int(claimed.sum()))} are still to come, the last is {last}"
        remedy = "This looks like a slip in the dates: correct them, or check the date of today."
        raise FaultsError([Fault(weather.origin, problem, remedy)])
    values, sources = {}, {}
    for name in VARIABLES:
        drop = ahead & (weather.sources[name] == Source.OBSERVED)
        values[name] = np.where(drop, np.nan, weather.values[name])
        sources[name] = np.where(drop, Source.MISSING, weather.sources[name]).astype(np.int8)
    note = (
        f"{count_days(int(claimed.sum()))} after {today} and not marked as forecast were left "
        f"out: {list_days(weather, claimed, 3)}."
    )
    kept = replace(weather, values=values, sources=sources)
    if not any((column[ahead] == Source.FORECAST).any() for column in sources.values()):
        kept = kept.cut(weather.start, today + timedelta(days=1))
    return kept, [note]


def with_rain_gauge(
    weather: DailyWeather, gauge: Mapping[date, float], today: date
) -> DailyWeather:
    """Return the weather with the grower's own readings by day [mm] in place of the table's rain.

    Summer storms are local: what fell into the yard's gauge is what fell on the logs. Readings of
    today or later, of a day that is not over, are left out.
    """
    rain, source = weather.rain.copy(), weather.sources["rain"].copy()
    used = 0
    for day, fallen in gauge.items():
        if weather.start <= day <= min(weather.end, today - timedelta(days=1)):
            rain[weather.index(day)] = fallen
            source[weather.index(day)] = Source.OBSERVED
            used += 1
    if not used:
        return weather
    return replace(
        weather,
        values={**weather.values, "rain": rain},
        sources={**weather.sources, "rain": source},
        notes=(*weather.notes, f"The yard's own rain gauge gives the rain of {count_days(used)}."),
    )


def usable_years(
    weather: DailyWeather, today: date, days_ahead: int
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Return the past years whose weather can stand for the days ahead, and notes on the others.

    Year Y is usable when the `days_ahead` days from today's calendar day in Y on lie in the table
    and wholly before today, when at most a tenth lack lowest or highest temperature after short
    gaps are closed, and at most a fifth rain; short gaps not yet closed count as missing among
    recent days. The days follow one another as they did then; from 29 February of a leap year on
    a year can so be one calendar day off, which no mushroom notices. Raises WeatherGapError if
    fewer than three years are usable, or too much of the last 60 days is missing.
    """
    check_recent(weather, today)
    filled = fill_gaps(weather)
    years: list[int] = []
    notes: list[str] = []
    for year in range(weather.start.year, today.year):
        start = same_day(today, year)
        if start < weather.start or start + timedelta(days=days_ahead) > today:
            continue
        first = filled.index(start)
        window = slice(first, first + days_ahead)
        cold = np.isnan(filled.tmin[window]) | np.isnan(filled.tmax[window])
        dry = np.isnan(filled.rain[window])
        for lacking, what, most in (
            (cold, "temperature", MOST_COLD_MISSING),
            (dry, "rain", MOST_RAIN_MISSING),
        ):
            if lacking.sum() > most * days_ahead:
                days = list_days(replace(filled, start=start), lacking, 3)
                notes.append(
                    f"The year {year} was left out: {count_days(int(lacking.sum()))} of the "
                    f"{days_ahead} from {start} on lack {what}, more than {most:.0%}: {days}."
                )
                break
        else:
            years.append(year)
    if len(years) < FEWEST_YEARS:
        reasons = " ".join(notes[-3:])
        raise WeatherGapError(
            f"{weather.origin or 'The weather'} ({weather.start} to {weather.end}) has "
            f"{len(years)} usable past {'year' if len(years) == 1 else 'years'} for the "
            f"{days_ahead} days from {today} on, and {FEWEST_YEARS} are the least."
            f"{f' {reasons}' if reasons else ''}",
            f"{LONGER_RECORD}."
            if not notes
            else f"Take in a file that has these days, or a longer record ({TAKE_IN}), or go by a "
            f"station: {BY_STATION}.",
        )
    if len(years) < ENOUGH_YEARS:
        notes.append(
            f"Only {len(years)} past years of weather are usable; ranges and chances from fewer "
            f"than {ENOUGH_YEARS} are rough."
        )
    return tuple(years), tuple(notes)


def check_recent(weather: DailyWeather, today: date) -> None:
    """Check that the table doesn't lag far behind, and lacks hardly any other of the last 60 days.

    Raises WeatherGapError if it lags more than 21 days, or more than three others are missing. An
    outage must not be read as a dry spell.
    """
    start = today - timedelta(days=RECENT_DAYS)
    whole = stretched(weather, min(start, weather.start), today - timedelta(days=1))
    late = late_days(whole, today)
    since = today - timedelta(days=late)
    if late > MOST_LATE_DAYS:
        begun = any(np.isfinite(whole.values[name][-late:]).any() for name in NEEDED)
        ends = "tells temperature and rain until" if begun else "ends on"
        raise WeatherGapError(
            f"{weather.origin or 'The weather'} {ends} "
            f"{since - timedelta(days=1)} and lacks the {late} days since; with more than "
            f"{MOST_LATE_DAYS} the state of the logs isn't known on {today}.",
            f"Take in newer weather ({TAKE_IN}), fetch the station's again ('fruitcast weather "
            f"fetch'), or go by a station ({BY_STATION}){_as_of_then(whole, since)}.",
        )
    recent = whole.cut(start, since)
    lacking = ~recent.whole
    missing = int(lacking.sum())
    if missing > MOST_RECENT_MISSING:
        raise WeatherGapError(
            f"{weather.origin or 'The weather'}: {missing} of the last {RECENT_DAYS} days before "
            f"{today} lack temperature or rain ({list_days(recent, lacking, 3)}), and "
            f"{MOST_RECENT_MISSING} are the most.",
            f"Take in a file that has these days ({TAKE_IN}), or fetch the station's weather again "
            "('fruitcast weather fetch').",
        )


def _as_of_then(weather: DailyWeather, day: date) -> str:
    """Return the advice to look at the yard as of a day, if that would be planned on."""
    if day <= weather.start:
        return ""
    try:
        check_recent(weather.cut(weather.start, day), day)
    except WeatherGapError:
        return ""
    return f". The yard as it stood then: --today {day}"
