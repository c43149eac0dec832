"""What a report is put together from, and what each part says in words and rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fruitcast.diary.plan import Plan
from fruitcast.diary.state import YardState
from fruitcast.forecast.outcome_scores import Foretelling
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.numbers import Numbers
from fruitcast.outputs.report_data import MoistureCourse
from fruitcast.outputs.report_season import Strip
from fruitcast.outputs.report_weather import FruitingRange, WeatherCourse
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import Yard


@dataclass(frozen=True)
class ReportData:
    """All that a report tells of.

    Attributes
    ----------
    today : date
        The day.
    yard, state : Yard, YardState
        What there is, and what the diary says.
    plan : Plan
        The plan.
    published : bool
        Whether it is the plan published today.
    outlook : YardOutlook
        The yard through every possible future.
    weather : DailyWeather
        As known today.
    numbers : Numbers
        The numbers in use.
    diary_to : date or None
        Day of the diary's latest entry.
    foretold : Foretelling
        How well it was foretold so far.
    """

    today: date
    yard: Yard
    state: YardState
    plan: Plan
    published: bool
    outlook: YardOutlook
    weather: DailyWeather
    numbers: Numbers
    diary_to: date | None
    foretold: Foretelling


@dataclass(frozen=True)
class Table:
    """A table of words; a cell may have several lines.

    Attributes
    ----------
    columns : tuple of str
        Headings.
    rows : tuple of tuple of str
        Cells; the first of each row says what it is about.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Figure:
    """A figure with its equivalents in words.

    Attributes
    ----------
    name, title : str
        Its name in the file, and its heading.
    narrow, wide : str
        Drawn as SVG for a phone and, where that differs, for paper; empty otherwise.
    panels : tuple of str
        Small drawings side by side instead.
    key : tuple of (str, str)
        Marks of the panels and what they mean.
    text : tuple of str
        What it shows, in sentences.
    table : Table
        What it shows, in rows.
    """

    name: str
    title: str
    text: tuple[str, ...]
    table: Table
    narrow: str = ""
    wide: str = ""
    panels: tuple[str, ...] = ()
    key: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Courses:
    """What the figures draw.

    Attributes
    ----------
    strip : Strip
        The season.
    moisture : tuple of MoistureCourse
        Of each stack that has logs.
    weather : WeatherCourse
        Around today.
    ranges : tuple of FruitingRange
        Of the classes in the yard.
    """

    strip: Strip
    moisture: tuple[MoistureCourse, ...]
    weather: WeatherCourse
    ranges: tuple[FruitingRange, ...]
