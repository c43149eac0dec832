"""What a standard log of each class does at one place: spawn run, moisture, flushes, soaks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
from pydantic import Field

from fruitcast.biology.wood import dry_from_wet, wet_from_dry
from fruitcast.diary.plan import LikelyDays
from fruitcast.diary.state import StackState, YardState
from fruitcast.document import Count, Day, Document, Number
from fruitcast.forecast.flushes import follow
from fruitcast.forecast.outlook import YardOutlook, outlook
from fruitcast.forecast.stacks import StackOutlook
from fruitcast.group.places import Place
from fruitcast.group.round import last_observed
from fruitcast.numbers import default_numbers
from fruitcast.soaks.expected import MOST_CHANCE_SAID
from fruitcast.topics import STRAIN_CLASSES, YardNumbers
from fruitcast.units import Units
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import Soaking, Stack, Yard

AHEAD_DAYS = 21
"""A chance of a natural flush is told for so long: further ahead the weather says nothing. [day]"""

RAIN_DAYS = 14
"""Rain is told of so many days. [day]"""

WEEK_DAYS = 7

WEEKS = 104
"""Spawn runs are followed so far ahead. [week]"""

DIAMETER, LENGTH, TREE = 0.125, 1.0, "red oak"
"""The standard log: 12.5 cm over bark, 1 m long [m], of red oak; inoculated with plugs."""

BORN_NORTH, BORN_SOUTH = (4, 15), (10, 15)
"""When logs are usually inoculated, month and day. Judgement."""

BEARING_YEARS = 2
"""The log that bears was inoculated so many years before those of this spring, and bore first a
year later. [year]"""

WET_DAYS, WET_ABOVE = 28, 0.05
"""The log that bears was watered well so long ago [day], to so much above what yards keep theirs at
[kg/kg wet], and had rain alone since; those of this spring are watered as is usual. Judgement."""


class SoakDays(Document):
    """Days from the soak to the first pick, of soaks that bring anything."""

    p10: Count
    p50: Count
    p90: Count


class ClassOutlook(Document):
    """A standard log of one class at one place."""

    strain_class: str
    spawn_progress: Number = Field(
        description="of the logs of this spring: share of the spawn run that is done"
    )
    spawn_ready: LikelyDays = Field(description="when it will be done, over weather and wood")
    natural_chance: Number = Field(
        description="of a natural flush, first pick within three weeks, on a rested log that bears"
    )
    soak_allowed: bool = Field(description="whether class and season allow a soak this week")
    soak_comes: Number = Field(description="share of the weather years in which it brings anything")
    soak_days: SoakDays | None = Field(description="null where it would bring nothing")


class PlaceOutlook(Document):
    """One place."""

    place: str
    faults: tuple[str, ...] = Field(
        default=(), description="why nothing can be said of it; then there is nothing else"
    )
    weather_until: Day | None = None
    weather_years: Count = 0
    rain_mm: Number | None = Field(default=None, description="of the last 14 days")
    moisture_wet: Number | None = Field(
        default=None,
        description="today, of a log that was well wet four weeks ago and had rain alone since",
    )
    inoculated: Day | None = Field(default=None, description="the logs of this spring")
    classes: tuple[ClassOutlook, ...] = ()
    notes: tuple[str, ...] = ()

    def of(self, strain_class: str) -> ClassOutlook:
        """Return what is told of one class."""
        return next(one for one in self.classes if one.strain_class == strain_class)


class District(Document):
    """What 'outlook --json' prints."""

    today: Day
    units: Units
    places: tuple[PlaceOutlook, ...]
    paragraph: str = Field(description="for a newsletter")


def place_outlook(
    place: Place,
    weather: DailyWeather,
    years: tuple[int, ...],
    today: date,
    seed: int,
) -> PlaceOutlook:
    """Return the outlook of a place.

    Parameters
    ----------
    place : Place
        The place.
    weather : DailyWeather
        Complete up to yesterday; later rows are forecasts.
    years : tuple of int
        Weather years of the members, with `WEEKS` weeks and more after today's date in each.
    today : date
        Day 0.
    seed : int
        Seed of the scatter.
    """
    numbers = default_numbers()
    born = place.inoculated or usual_inoculation(place.site.latitude, today)
    old = date(born.year - BEARING_YEARS, born.month, min(born.day, 28))
    week = [today + timedelta(days=n) for n in range(WEEK_DAYS)]
    wet = dry_from_wet(numbers.yard.keep_above + WET_ABOVE)

    def looked_at(
        yard: Yard, soaks: list[date], weighed: tuple[tuple[date, float], ...] = ()
    ) -> YardOutlook:
        state = YardState(
            stacks={s.name: StackState(s.name, 1, moisture_seen=weighed) for s in yard.stacks},
            lot_of={s.name: s.name for s in yard.stacks},
        )
        return outlook(
            yard, state, weather, today, years, soaks, weeks=WEEKS, seed=seed, numbers=numbers
        )

    young = looked_at(standard_yard(place, born, numbers.yard), [])
    dry = replace(standard_yard(place, old, numbers.yard, bearing=True), keep_above=None)
    look = looked_at(dry, week, ((today - timedelta(days=WET_DAYS), float(wet)),))
    at = weather.index(today)
    return PlaceOutlook(
        place=place.name,
        weather_until=last_observed(weather, today),
        weather_years=len(years),
        rain_mm=float(weather.rain[max(at - RAIN_DAYS, 0) : at].sum()),
        moisture_wet=float(wet_from_dry(look.past.by_stack[-1, 0])),
        inoculated=born,
        classes=tuple(
            _class_outlook(look, new, bears)
            for new, bears in zip(young.stacks, look.stacks, strict=True)
        ),
        notes=weather.notes,
    )


def usual_inoculation(latitude: float, today: date) -> date:
    """Return the last day up to today on which logs were usually inoculated."""
    month, day = BORN_NORTH if latitude >= 0 else BORN_SOUTH
    this_year = date(today.year, month, day)
    return this_year if this_year <= today else date(today.year - 1, month, day)


def standard_yard(
    place: Place, inoculated: date, numbers: YardNumbers, *, bearing: bool = False
) -> Yard:
    """Return a yard of one standard log of each class, inoculated on one day.

    Parameters
    ----------
    place : Place
        Where it is.
    inoculated : date
        The day.
    numbers : YardNumbers
        What yards usually are.
    bearing : bool
        Whether they have borne since a year after.
    """
    since = date(inoculated.year + 1, inoculated.month, inoculated.day) if bearing else None
    stacks = [
        Stack(name, name, "", TREE, 1, DIAMETER, LENGTH, inoculated, "plug", "", since)
        for name in STRAIN_CLASSES
    ]
    return Yard(
        folder=Path(),
        name=place.name,
        units="metric",
        site=place.site,
        weather=place.weather,
        soaking=Soaking(tuple(range(7)), 100, time(8), None, None, None),
        keep_above=numbers.keep_above,
        cold_store_days=int(numbers.cold_store_days),
        saleable=numbers.saleable,
        promise=numbers.promise,
        outlets=(),
        orders=(),
        away=(),
        stacks=tuple(stacks),
    )


def _class_outlook(look: YardOutlook, young: StackOutlook, old: StackOutlook) -> ClassOutlook:
    logs, today = look.kinds[old.kind], look.futures.lookback
    members = len(look.futures.years)
    rested, ready = np.full((1, members), -np.inf), np.zeros((1, members), dtype=np.int64)
    following = follow(logs, rested, ready, today)
    coming = (following.kg > 0) & (following.pick >= today) & (following.pick < today + AHEAD_DAYS)
    forced = logs.forced
    bears = forced.bears & forced.allowed[:, None]
    after = (forced.pick_row - forced.soak_row[:, None])[bears]
    allowed = forced.allowed
    return ClassOutlook(
        strain_class=old.name,
        spawn_progress=young.spawn.progress,
        spawn_ready=LikelyDays(
            p10=young.spawn.early,
            p50=young.spawn.middle,
            p80=young.spawn.likely,
            p90=young.spawn.late,
        ),
        natural_chance=min(float(coming.any(axis=(0, 1)).mean()), MOST_CHANCE_SAID),
        soak_allowed=bool(allowed.any()),
        soak_comes=float(bears[allowed].mean()) * (1 - look.learned.fails)
        if allowed.any()
        else 0.0,
        soak_days=_soak_days(after) if len(after) else None,
    )


def _soak_days(after: npt.NDArray[np.int64]) -> SoakDays:
    p10, p50, p90 = np.quantile(after, (0.1, 0.5, 0.9), method="inverted_cdf")
    return SoakDays(p10=int(p10), p50=int(p50), p90=int(p90))
