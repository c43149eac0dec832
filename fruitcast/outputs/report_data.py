"""What a report's figures draw: moisture, weather, and every stack's season as spans of days."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, NamedTuple

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.biology.wood import wet_from_dry
from fruitcast.diary.plan import Plan, WateringChance
from fruitcast.diary.state import StackState, YardState
from fruitcast.forecast.members import Ensemble
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.numbers import default_numbers
from fruitcast.outputs.reminder_writer import pick_days
from fruitcast.soaks.soak_days import is_away
from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.yard.model import Stack, Yard

PAST_DAYS = 84
"""Days before today that are shown. [day]"""

PROBABLY = 0.5
"""A stack whose chance of wanting water reaches this probably will. [0..1]"""


@dataclass(frozen=True)
class MoistureCourse:
    """The moisture of one stack's logs over the past weeks."""

    stack: str
    first: date
    today: date  # the day after the last one
    # (day,): log moisture at the end of each day; NaN before inoculation [kg/kg wet]
    wet: FloatArray
    watered: tuple[tuple[date, float], ...]  # waterings of the diary [mm]
    # Waterings taken to have been given where the diary is silent [mm]
    assumed: tuple[tuple[date, float], ...]
    soaked: tuple[date, ...]  # days on which the logs went into the tank
    weighed: tuple[tuple[date, float], ...]  # moisture by weighed sample logs [kg/kg wet]
    due: date | None  # day for which the plan asks for water
    # Level below which logs are watered; None when nobody waters [kg/kg wet]
    keep_above: float | None
    dead_below: float  # level below which spawn does not survive [kg/kg wet]

    def wet_on(self, day: date) -> float:
        """Return the moisture at the end of a day; NaN where it is not known. [kg/kg wet]"""
        row = (day - self.first).days
        return float(self.wet[row]) if 0 <= row < len(self.wet) else float("nan")


def moisture_courses(
    plan: Plan, outlook: YardOutlook, dead_below: float
) -> tuple[MoistureCourse, ...]:
    """Return the moisture of every stack that stands, over the days before today.

    The plan tells the waterings it asks for; `dead_below` is the level below which spawn does not
    survive [kg/kg wet].
    """
    past, today = outlook.past, outlook.futures.today
    first = max(today - timedelta(days=PAST_DAYS), past.first)
    begin = past.row(first)
    due = {entry.stack: entry.on for entry in reversed(plan.water)}
    found = []
    for column, stack in enumerate(outlook.stacks):
        state = stack.state
        if state.logs <= 0 or stack.stack.inoculated >= today:
            continue
        wet = wet_from_dry(past.by_stack[begin:, column])
        wet[: max((stack.stack.inoculated - first).days, 0)] = np.nan
        recorded = {on for on, _ in state.watered}
        given = past.watered[begin:, column]
        assumed = [
            (first + timedelta(days=int(row)), float(given[row])) for row in np.flatnonzero(given)
        ]
        found.append(
            MoistureCourse(
                stack.name,
                first,
                today,
                wet,
                tuple((on, mm) for on, mm in state.watered if first <= on < today),
                tuple((on, mm) for on, mm in assumed if on not in recorded),
                tuple(soak.on for soak in state.soaks if first <= soak.on < today),
                tuple(
                    (on, float(wet_from_dry(seen)))
                    for on, seen in state.moisture_seen
                    if first <= on < today
                ),
                due.get(stack.name),
                outlook.yard.keep_above,
                dead_below,
            )
        )
    return tuple(found)


def probably_dry(plan: Plan) -> dict[str, WateringChance]:
    """Return the stacks that will probably want water, each with the week in which that is so."""
    found: dict[str, WateringChance] = {}
    for entry in plan.water_chance:
        if entry.chance >= PROBABLY:
            found.setdefault(entry.stack, entry)
    return found


def dry_courses(courses: Sequence[MoistureCourse], plan: Plan) -> tuple[MoistureCourse, ...]:
    """Return the stacks that are dry, or are to be watered, now or probably soon.

    Where nobody waters, dry is what a yard that does would water.

    The plan tells the waterings it asks for and expects.
    """
    usual, probably = default_numbers().yard.keep_above, probably_dry(plan)
    return tuple(
        course
        for course in courses
        if course.due is not None
        or course.stack in probably
        or course.wet_on(course.today - timedelta(days=1))
        < (usual if course.keep_above is None else course.keep_above)
    )


# The weather that a plan rests on: past weeks, forecast, and the fan of past years.


PAST_WEEKS = 8
"""Weeks before today that are shown."""

FAN = (0.1, 0.5, 0.9)
"""Shares of the weather years below the fan's lower edge, middle and upper edge."""


@dataclass(frozen=True)
class WeatherCourse:
    """The weather around today; rows count days from `first`."""

    first: date
    today: date
    tmean: FloatArray  # (day,): daily mean temperature up to yesterday, then of the forecast [degC]
    # (day,): days of `tmean` whose temperature or rain was put in where the record has a gap.
    filled: BoolArray
    # (3, week): means of the weeks from today on: lower edge, middle and upper edge over the
    # weather years [degC]
    fan_tmean: FloatArray
    rain: FloatArray  # (week,): total of each of the weeks before today, the earliest first [mm]
    fan_rain: FloatArray  # (3, week): totals of the same weeks, likewise [mm]
    forecast_days: int  # days from today on that are forecast
    years: int  # weather years in the fan

    @property
    def last(self) -> date:
        """The last day of the fan."""
        return self.today + timedelta(days=7 * self.fan_tmean.shape[1] - 1)


def weather_course(weather: DailyWeather, futures: Ensemble, weeks: int) -> WeatherCourse:
    """Return the weather of the past weeks, the forecast and the fan of past years.

    The weather is that known today, gaps filled; the fan goes so many weeks on.
    """
    here = futures.lookback
    before = 7 * min(PAST_WEEKS, here // 7)
    start = weather.index(futures.today)
    past = weather.tmean[start - before : start]
    codes = np.stack(
        [weather.sources[name][start - before : start] for name in ("tmin", "tmax", "rain")]
    )
    ahead = 7 * min(weeks, (futures.days - here) // 7)
    coming = slice(here, here + ahead)
    past_rain = weather.rain[start - before : start].reshape(-1, 7).sum(axis=1)
    members = len(futures.years)
    weekly_mean = futures.tmean[coming].reshape(-1, 7, members).mean(axis=1)
    rain = futures.rain[coming].reshape(-1, 7, members).sum(axis=1)
    return WeatherCourse(
        futures.today - timedelta(days=before),
        futures.today,
        np.concatenate([past, futures.forecast["tmean"]]),
        ((codes == Source.FILLED) | (codes == Source.AWAITED)).any(axis=0),
        np.quantile(weekly_mean, FAN, axis=1),
        past_rain,
        np.quantile(rain, FAN, axis=1),
        futures.known_days,
        sum(year > 0 for year in futures.years),
    )


# The season of every stack as spans of days: what a strip of the yard shows.

SpanKind = Literal["spawn run", "first year", "rest"]

BEFORE_DAYS = 28
"""Days before today that a strip shows. [day]"""


@dataclass(frozen=True)
class Span:
    """A stretch of one stack's season; `past` is the day after its last."""

    # 'spawn run' (up to the day by which it should be done), 'first year' (done, but not a full
    # year from inoculation) or 'rest'.
    kind: SpanKind
    first: date
    past: date


@dataclass(frozen=True)
class StripSoak:
    """One soak on the strip."""

    on: date  # the logs go in
    pull_on: date  # they come out
    done: bool  # whether the diary has it
    # First pick, early, likely and late; None when that is over.
    window: tuple[date, date, date] | None
    expected_kg: float  # [kg]
    comes: float | None = None  # share of the years in which anything comes of a planned one [0..1]


@dataclass(frozen=True)
class StripRow:
    """One stack's season."""

    stack: str
    strain_class: str
    spans: tuple[Span, ...]  # in order of day
    # Early, likely and late day by which its spawn run is done; None when it is.
    ready: tuple[date | None, date | None, date | None] | None
    soaks: tuple[StripSoak, ...]  # of the diary and the plan, in order of day
    picked: tuple[date, ...]  # days on which it was picked
    # Chance that a natural flush begins in the week from each Monday [0..1]
    natural: tuple[tuple[date, float], ...]


@dataclass(frozen=True)
class Strip:
    """The season of the whole yard."""

    first: date
    today: date  # the day of the plan
    last: date
    rows: tuple[StripRow, ...]
    # Spans without soaking, pulling or picking, both ends included.
    away: tuple[tuple[date, date], ...]


def season_strip(
    plan: Plan, yard: Yard, state: YardState, *, first_after_days: float, rest_days: float
) -> Strip:
    """Return the season of every stack, out of a plan and the diary.

    From inoculation to the first soak lie `first_after_days`, from soak day to soak day
    `rest_days`.
    """
    today = plan.today
    first, last = today - timedelta(days=BEFORE_DAYS), today + timedelta(weeks=plan.weeks, days=-1)
    frame = _Frame(first, last, timedelta(int(first_after_days)), timedelta(int(rest_days)))
    rows = tuple(
        _row(plan, yard.by_name[state.lot_of[name]], stack, frame)
        for name, stack in state.stacks.items()
    )
    return Strip(first, today, last, rows, tuple(_away(yard, first, last)))


class _Frame(NamedTuple):
    """What bounds the spans of every row."""

    first: date
    last: date
    first_year: timedelta  # from inoculation to the first soak
    rest: timedelta  # from soak day to soak day


def _row(plan: Plan, stack: Stack, state: StackState, frame: _Frame) -> StripRow:
    soaks = tuple(sorted(_soaks(plan, state, frame.first), key=lambda soak: soak.on))
    ready = _ready(plan, state.name)
    past = frame.last + timedelta(days=1)
    spans = (
        Span(span.kind, max(span.first, frame.first), min(span.past, past))
        for span in (*_young(stack, ready, frame), *_rests(plan, state, soaks, frame.rest))
        if span.first < past and span.past > frame.first
    )
    return StripRow(
        state.name,
        stack.strain_class,
        tuple(sorted(spans, key=lambda span: span.first)),
        ready,
        soaks,
        tuple(sorted({pick.on for pick in state.picks if pick.on >= frame.first})),
        tuple((entry.week, entry.chance) for entry in plan.natural if entry.stack == state.name),
    )


def _soaks(plan: Plan, state: StackState, first: date) -> Iterator[StripSoak]:
    under_way = {entry.soak_on: entry for entry in plan.under_way if entry.stack == state.name}
    for soak in state.soaks:
        entry = under_way.get(soak.on)
        if soak.on >= first or entry is not None:
            pulled = soak.pulled_on or (entry.pull_on if entry else soak.on)
            window = None if entry is None else pick_days(entry.pick)
            kg = 0.0 if entry is None else entry.expected_kg
            yield StripSoak(soak.on, pulled, True, window, kg)
    for ahead in plan.soaks:
        if ahead.stack == state.name:
            yield StripSoak(
                ahead.soak_on,
                ahead.pull_on,
                False,
                pick_days(ahead.pick),
                ahead.expected_kg,
                ahead.comes,
            )


def _ready(plan: Plan, stack: str) -> tuple[date | None, date | None, date | None] | None:
    for entry in plan.spawn_run:
        if entry.stack == stack:
            done = next((day.on for day in plan.ready if day.stack == stack), None)
            return entry.ready.p10, done, entry.ready.p90
    return None


def _young(
    stack: Stack, ready: tuple[date | None, date | None, date | None] | None, frame: _Frame
) -> Iterator[Span]:
    year_up = stack.inoculated + frame.first_year
    done = stack.inoculated
    if ready is not None:
        done = ready[1] or ready[2] or frame.last + timedelta(days=1)
        yield Span("spawn run", stack.inoculated, done)
    if year_up > max(done, frame.first):
        yield Span("first year", done, year_up)


def _rests(
    plan: Plan, state: StackState, soaks: tuple[StripSoak, ...], rest: timedelta
) -> Iterator[Span]:
    for soak in soaks:
        yield Span("rest", soak.pull_on, soak.on + rest)
    done = [soak for soak in soaks if soak.done]
    for entry in plan.rest_ends:
        known = max((soak.on + rest for soak in done), default=date.min)
        if entry.stack == state.name and entry.on > known:
            # The rest may follow a natural flush, which no soak on the strip explains.
            begun = [pick.on for pick in state.picks if pick.kind == "natural"]
            begun += [soak.pull_on for soak in done]
            yield Span("rest", max(begun, default=plan.today), entry.on)


def _away(yard: Yard, first: date, last: date) -> Iterator[tuple[date, date]]:
    begun: date | None = None
    for offset in range((last - first).days + 2):
        day = first + timedelta(days=offset)
        away = day <= last and is_away(yard, day)
        if away and begun is None:
            begun = day
        elif not away and begun is not None:
            yield begun, day - timedelta(days=1)
            begun = None
