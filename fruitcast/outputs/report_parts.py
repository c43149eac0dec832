"""What a report is put together from, and what its plan rests on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from fruitcast.diary.cold_store import losses_words
from fruitcast.diary.plan import Plan
from fruitcast.diary.state import YardState
from fruitcast.forecast.outcome_scores import Foretelling
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.numbers import Numbers
from fruitcast.outputs.plan_words import gap_words
from fruitcast.outputs.report_data import MoistureCourse, Strip, WeatherCourse
from fruitcast.topics import StrainClass, StrainRange
from fruitcast.units import format_weight
from fruitcast.weather.daily import DailyWeather, Source, last_observed
from fruitcast.words import clean_line, count_words, dated_words, percent_words
from fruitcast.yard.model import Yard


@dataclass(frozen=True)
class ReportData:
    """All that a report tells of."""

    today: date
    yard: Yard
    state: YardState  # what the diary says
    plan: Plan
    published: bool  # whether it is the plan published today
    outlook: YardOutlook  # the yard through every possible future
    weather: DailyWeather  # as known today
    numbers: Numbers
    diary_to: date | None  # day of the diary's latest entry
    foretold: Foretelling  # how well it was foretold so far


@dataclass(frozen=True)
class WordTable:
    """A table of words; a cell may have several lines."""

    columns: tuple[str, ...]  # headings
    rows: tuple[tuple[str, ...], ...]  # cells; the first of each row says what it is about


@dataclass(frozen=True)
class Figure:
    """A figure with its equivalents in words."""

    name: str  # in the file
    title: str
    text: tuple[str, ...]  # what it shows, in sentences
    table: WordTable
    narrow: str = ""  # drawn as SVG for a phone; empty without one
    wide: str = ""  # the same for paper, where that differs
    panels: tuple[str, ...] = ()  # small drawings side by side instead
    key: tuple[tuple[str, str], ...] = ()  # marks of the panels and what they mean


@dataclass(frozen=True)
class Courses:
    """What the figures draw."""

    strip: Strip
    moisture: tuple[MoistureCourse, ...]  # of each stack that has logs
    weather: WeatherCourse  # around today
    ranges: dict[StrainClass, StrainRange]  # of the classes in the yard


# What a plan rests on: how old the data are, how many years, which numbers are judgement.

YEAR_DAYS = 365
"""Days before today in which filled days are counted. [day]"""


OF_SELLING = re.compile(r"\b(?:sales?|outlets?|targets?|promises?|prices?)\b")
"""What numbers speak of that say nothing to who sells nothing."""


def basis_facts(data: ReportData, course: WeatherCourse) -> tuple[tuple[str, str], ...]:
    """Return what the plan rests on, each thing with its name."""
    return tuple(_facts(data, course))


def _facts(data: ReportData, course: WeatherCourse) -> Iterator[tuple[str, str]]:
    plan, today = data.plan, data.today
    made = "published" if data.published else "made for this report and not published"
    yield "Plan", f"of {dated_words(today)}, {made}, for {count_words(plan.weeks, 'week')}"
    last = last_observed(data.weather, data.today) or data.weather.start
    age = (today - last).days
    old = "yesterday" if age == 1 else f"{count_words(age, 'day')} ago"
    yield (
        "Weather",
        f"{clean_line(data.weather.origin) or 'weather file'}, up to {dated_words(last)} ({old})",
    )
    yield "Filled days", _filled(data)
    forecast = course.forecast_days
    yield "Forecast", count_words(forecast, "day") if forecast else "none"
    yield "Weather years", _years(data)
    if data.diary_to is None:
        yield "Diary", "empty: nothing is known of what was done"
    else:
        yield "Diary", f"up to {dated_words(data.diary_to)}"
    if lost := losses_words(data.state.losses):
        yield "Losses", lost
    if data.yard.sells:
        yield (
            "Promise",
            f"the amount on hand in at least {percent_words(plan.promise)} of weather years",
        )
    yield "Ranges", "8 of 10 weather years, with the scatter between logs that is usual"
    if gap := gap_words(plan):
        yield ("Proof", f"within the model no plan is better by more than {gap} of what is wanted")
    yield "Numbers", _numbers(data)


def _filled(data: ReportData) -> str:
    weather, end = data.weather, data.weather.index(data.today)
    begin = max(end - YEAR_DAYS, 0)
    filled = {
        name: weather.sources[name][begin:end] == Source.FILLED for name in ("tmin", "tmax", "rain")
    }
    cold = int((filled["tmin"] | filled["tmax"]).sum())
    wet = int(filled["rain"].sum())
    if not cold and not wet:
        return f"none in the last {count_words(end - begin, 'day')}"
    return (
        f"{count_words(cold, 'day')} of temperature and {wet} of rain in the last "
        f"{count_words(end - begin, 'day')}"
    )


def _years(data: ReportData) -> str:
    years = sorted(year for year in data.outlook.futures.years if year > 0)
    made_up = len(data.outlook.futures.years) - len(years)
    words = f"{len(years)}, {years[0]} to {years[-1]}" if years else "none"
    if made_up:
        words += f"; {made_up} more put together from blocks of their days"
    return words


def _numbers(data: ReportData) -> str:
    entries = data.numbers.entries()
    counts = dict.fromkeys(("published", "common practice", "memory", "judgement"), 0)
    own = 0
    for entry in entries:
        if entry.overridden:
            own += 1
        else:
            counts[entry.label] += 1
    return (
        f"{len(entries)} in all: {counts['published']} published, {counts['common practice']} "
        f"common practice, {counts['memory']} published but cited from memory, "
        f"{counts['judgement']} our judgement, {own} the yard's own"
    )


def judgement_table(data: ReportData) -> WordTable:
    """Return the numbers that are the yard's own or our judgement, with the reason."""
    rows = [
        (
            entry.key,
            f"{entry.value:g} {entry.unit}".removesuffix(" unitless"),
            f"the yard's own; ours is {entry.label}: {entry.why}"
            if entry.overridden
            else entry.why,
        )
        for entry in sorted(data.numbers.entries(), key=lambda entry: not entry.overridden)
        if (entry.overridden or entry.label == "judgement")
        and (data.yard.sells or not OF_SELLING.search(f"{entry.key} {entry.unit} {entry.why}"))
    ]
    return WordTable(("Number", "Value", "Why"), tuple(rows))


def learned_table(data: ReportData) -> WordTable:
    """Return what the yard's own flushes have changed, before and after."""
    units = data.yard.units
    rows = [
        (
            f"{found.strain_class}, {clean_line(found.tree)}",
            str(found.flushes),
            f"{format_weight(found.kg_per_log_before, units)} to "
            f"{format_weight(found.kg_per_log_after, units)}",
            f"{found.lead_degree_days_before:.0f} to {found.lead_degree_days_after:.0f}",
        )
        for found in data.plan.learned
    ]
    return WordTable(
        ("Logs", "Flushes", "A log's flush, before to after", "Lead time, degree-days"), tuple(rows)
    )
