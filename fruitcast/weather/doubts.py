"""What may be wrong with weather that can be used: asked about, and no more."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from fruitcast.topics import WeatherDoubts
from fruitcast.units import Units, format_temperature
from fruitcast.weather.daily import NEEDED, DailyWeather, Source, awaited_days, same_day
from fruitcast.weather.judge import LAST_DAYS, questions
from fruitcast.words import first_of

SPAN_YEARS = 10
"""Years within so many of one another know one decade only. Judgement. [year]"""

OLD_YEARS = 15
"""A record whose last usable year is so long ago may no longer be the climate. Judgement. [year]"""

FILLED = 0.1
"""Share of a year's days filled in from which it is told by name. Judgement. [0..1]"""

MID_LATITUDE = 20.0
"""Nearer to the equator seasons don't tell north from south. Judgement. [degree]"""

SEASONS_APART = 3.0
"""Difference between January and July that tells the hemisphere. Judgement. [degC]"""


def doubts_of_weather(
    weather: DailyWeather,
    years: Sequence[int],
    today: date,
    days_ahead: int,
    latitude: float,
    units: Units,
    limits: WeatherDoubts,
    *,
    believed_until: date | None = None,
) -> tuple[str, ...]:
    """Return what to ask about weather that can be used, each with reason and remedy.

    The weather is as `known_weather` gives it, filled days flagged, with the past years in use,
    rising, and the days of the future that they stand for; the latitude is the yard's [degree,
    north positive]. Days up to `believed_until`, which the grower has said are right, aren't
    asked about.
    """
    found = [*_of_one_decade(years, today), *_filled_years(weather, years, today, days_ahead)]
    other_half = _of_the_other_half(weather, today, latitude, units)
    begin = weather.start
    if believed_until is not None:
        begin = min(max(begin, believed_until + timedelta(days=1)), today)
    # What stands in for late days is nobody's slip.
    told_to = max(today - timedelta(days=awaited_days(weather, today)), begin)
    return (*found, *(other_half or _hardly_true(weather, begin, told_to, latitude, limits)))


def _hardly_true(
    weather: DailyWeather, begin: date, today: date, latitude: float, limits: WeatherDoubts
) -> list[str]:
    """Return what should have been asked about the days from `begin` on when they were taken in."""
    allowed = latitude if abs(latitude) >= MID_LATITUDE else None
    turn = today - timedelta(days=LAST_DAYS)
    first, last = weather.cut(begin, max(turn, begin)), weather.cut(max(turn, begin), today)
    found = [*questions(first, limits, latitude=allowed)] if first.days else []
    if last.days:
        before = weather.cut(weather.start, turn)
        known = before if before.days >= 365 else None
        found += questions(last, limits, known=known, latitude=allowed)
    return [
        f"The yard's weather: {question}. Take the right values in with 'fruitcast weather import "
        "FILE --replace', if these are wrong."
        for question in dict.fromkeys(found)
    ]


def _of_one_decade(years: Sequence[int], today: date) -> list[str]:
    if not years:
        return []
    found = []
    if years[-1] - years[0] < SPAN_YEARS:
        found.append(
            f"All weather years are of {years[0]} to {years[-1]}: wet and dry spells can last so "
            "long, and what is rarer than one year in ten may be missing. A longer record, or a "
            "larger 'years' under [weather] in yard.toml, makes ranges and chances surer."
        )
    if today.year - years[-1] > OLD_YEARS:
        found.append(
            f"The last weather year that can be used is {years[-1]}, {today.year - years[-1]} "
            "years ago: it may be warmer or wetter today. Add the weather of the years since."
        )
    return found


def _filled_years(
    weather: DailyWeather, years: Sequence[int], today: date, days_ahead: int
) -> list[str]:
    filled = np.zeros(weather.days, dtype=bool)
    for name in NEEDED:
        filled |= weather.sources[name] == Source.FILLED
    shares = {}
    for year in years:
        first = weather.index(same_day(today, year))
        shares[year] = float(filled[max(first, 0) : first + days_ahead].mean())
    much = sorted(
        (year for year, share in shares.items() if share >= FILLED), key=lambda year: -shares[year]
    )
    if not much:
        return []
    named = first_of([f"{year} ({shares[year]:.0%})" for year in much])
    return [
        f"Weather years filled in from other years on many of their days: {named}. What is "
        "filled in was not measured; complete the record, or take the weather of a station "
        "near by."
    ]


def _of_the_other_half(
    weather: DailyWeather, today: date, latitude: float, units: Units
) -> list[str]:
    """Return a doubt when January and July are those of the other half of the globe."""
    past = weather.cut(max(weather.start, today - timedelta(days=3653)), today)
    months = np.array([past.day(row).month for row in range(past.days)])
    tmean = past.values["tmean"]
    january, july = (tmean[(months == month) & np.isfinite(tmean)] for month in (1, 7))
    if abs(latitude) < MID_LATITUDE or not len(january) or not len(july):
        return []
    warmer = float(july.mean() - january.mean()) * (1 if latitude > 0 else -1)
    if warmer > -SEASONS_APART:
        return []
    in_january, in_july = (
        format_temperature(float(month.mean()), units) for month in (january, july)
    )
    side, other = ("north", "south") if latitude > 0 else ("south", "north")
    return [
        f"The yard's latitude {latitude:g} lies {side} of the equator, but the weather has the "
        f"seasons of the {other}: January is at {in_january} and July at {in_july}. North is "
        "positive, south negative: check latitude in yard.toml "
        "[site], and whose weather it is."
    ]
