"""The report: one HTML file without network, for the shed door and the phone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from fruitcast.outputs import report_words as words
from fruitcast.outputs.cautions import growing_cautions
from fruitcast.outputs.evidence_words import foretold_lines, foretold_rows
from fruitcast.outputs.plan_words import model_change_lines, table_words
from fruitcast.outputs.plots import (
    KEY,
    NARROW,
    WIDE,
    figure,
    plot_moisture,
    plot_supply,
    short_name,
    svg_text,
)
from fruitcast.outputs.plots_season import plot_season, strip_height
from fruitcast.outputs.plots_weather import plot_rain, plot_temperature
from fruitcast.outputs.report_data import (
    Strip,
    dry_courses,
    moisture_courses,
    season_strip,
    weather_course,
)
from fruitcast.outputs.report_parts import (
    Courses,
    Figure,
    ReportData,
    basis_facts,
    judgement_table,
    learned_table,
)
from fruitcast.outputs.report_words import order_lines, week_sheet
from fruitcast.outputs.sheets import page_of
from fruitcast.topics import STRAIN_CLASSES
from fruitcast.units import UNIT_OF_RAIN, UNIT_OF_WEIGHT
from fruitcast.words import clean_line, count_words

# The figures of a report, drawn, with their words and tables.

PANEL = (1.72, 1.15)
"""Size of a small panel: two stand side by side on a phone, four on paper. [inch]"""

Margins = tuple[float, float, float, float]
"""Room left of, below, right of and above a figure's axes. [inch]"""

PANEL_MARGINS: Margins = (0.38, 0.24, 0.04, 0.22)
BAR_MARGINS: Margins = (0.64, 0.24, 0.06, 0.42)
SUPPLY_MARGINS: Margins = (0.5, 0.24, 0.04, 0.28)
STRIP_MARGINS: Margins = (0.14, 0.22, 0.04, 0.9)
BROAD_STRIP_MARGINS: Margins = (0.72, 0.22, 0.3, 0.57)
_FEW_LETTERS = 4
_LETTER = 0.1  # inch, of a name of few letters beside the strip

MOST_PANELS = 60
"""Small panels at most; of more dry stacks the driest are drawn."""

ROWS_A_STRIP = 30
"""Stacks on one strip, so that it fits a page."""


def report_figures(data: ReportData, courses: Courses) -> tuple[Figure, ...]:
    """Return every figure of a report."""
    return (
        *_supply(data, courses.strip),
        *_season(data, courses.strip),
        *_weather(data, courses),
        _moisture(data, courses),
    )


def _drawn(
    draw: Callable[..., object],
    name: str,
    title: str,
    width: float,
    height: float,
    margins: Margins | None = None,
) -> str:
    fig, ax = figure(width, height, margins)
    draw(ax=ax)
    return svg_text(fig, name, title)


def _supply(data: ReportData, strip: Strip) -> Iterator[Figure]:
    units, promise = data.yard.units, data.plan.promise
    for place, name in enumerate(dict.fromkeys(outlet.name for outlet in data.yard.outlets)):
        sales = [sale for sale in data.plan.outlets if sale.outlet == name]
        if not sales:
            continue
        title = clean_line(name)
        yield Figure(
            f"supply{place}",
            title,
            words.supply_text(sales, promise, units),
            words.supply_table(sales, units),
            _drawn(
                partial(plot_supply, sales, units, span=(strip.today, strip.last)),
                f"supply{place}",
                f"{title}: wanted, likely and promised on {count_words(len(sales), 'day')}",
                NARROW,
                1.75,
                SUPPLY_MARGINS,
            ),
        )


def _season(data: ReportData, strip: Strip) -> Iterator[Figure]:
    """Yield the strip, in parts where there are many stacks."""
    for begin in range(0, max(len(strip.rows), 1), ROWS_A_STRIP):
        part = replace(strip, rows=strip.rows[begin : begin + ROWS_A_STRIP])
        name, title = f"season{begin // ROWS_A_STRIP}", "Stack by stack"
        if len(strip.rows) > ROWS_A_STRIP:
            title += f": {part.rows[0].stack} to {part.rows[-1].stack}"
        label = "Spawn run, rest, soaks, pick windows and chances of natural flushes by stack"
        narrow, wide = (
            _drawn(
                partial(plot_season, part),
                f"{name}{sort}",
                label,
                width,
                strip_height(part, row) + more,
                _strip_margins(part, margins),
            )
            for sort, width, row, more, margins in (
                ("n", NARROW, 0.3, 0.4, STRIP_MARGINS),
                ("w", WIDE, 0.21, 0.0, BROAD_STRIP_MARGINS),
            )
        )
        yield Figure(
            name,
            clean_line(title),
            words.season_text(data.plan, strip, data.plan.short) if not begin else (),
            words.season_table(data.plan, part, data.yard.units),
            narrow,
            wide,
        )


def _strip_margins(strip: Strip, room: Margins) -> Margins | None:
    """Return the room around a strip; None, to be found out, where names are long."""
    letters = max((len(short_name(row.stack)) for row in strip.rows), default=0)
    left, below, right, above = room
    if letters > _FEW_LETTERS:
        return None
    return max(left + _LETTER * letters, 0.36), below, right, above


def _moisture(data: ReportData, courses: Courses) -> Figure:
    text = words.moisture_text(courses.moisture, data.plan)
    shown = dry_courses(courses.moisture, data.plan)
    if len(shown) > MOST_PANELS:
        driest = {c.stack for c in sorted(shown, key=lambda c: c.wet[-1])[:MOST_PANELS]}
        text = (
            f"Drawn are the {MOST_PANELS} driest of {len(shown)} dry stacks; the table has all.",
            *text,
        )
        shown = tuple(course for course in shown if course.stack in driest)
    panels = tuple(
        _drawn(
            partial(plot_moisture, course),
            f"moisture{place}",
            f"Moisture of {clean_line(course.stack)} over the past weeks",
            *PANEL,
            PANEL_MARGINS,
        )
        for place, course in enumerate(shown)
    )
    return Figure(
        "moisture",
        "How wet the logs are",
        text,
        words.moisture_table(courses.moisture),
        panels=panels,
        key=KEY if panels else (),
    )


def _weather(data: ReportData, courses: Courses) -> Iterator[Figure]:
    units, course, ranges = data.yard.units, courses.weather, courses.ranges
    yield Figure(
        "temperature",
        "Temperature",
        words.temperature_text(course, ranges, units),
        words.temperature_table(course, ranges, units),
        _drawn(
            partial(plot_temperature, course, ranges, units),
            "temperature",
            f"Mean temperature from {_span(course.first, course.last)}",
            NARROW,
            2.4,
        ),
    )
    yield Figure(
        "rain",
        "Rain",
        words.rain_text(course, units),
        words.rain_table(course, units),
        _drawn(
            partial(plot_rain, course, units),
            "rain",
            f"Rain of each week from {_span(course.first, course.last)}",
            NARROW,
            1.9,
            BAR_MARGINS,
        ),
    )


def _span(first: date, last: date) -> str:
    return f"{first.isoformat()} to {last.isoformat()}"


@dataclass(frozen=True)
class Page:
    """A report as it is written."""

    html: bytes  # the whole file, UTF-8
    figures: tuple[Figure, ...]


def courses_of(data: ReportData) -> Courses:
    """Return what the figures of a report draw."""
    classes = {stack.strain_class for stack in data.yard.stacks}
    return Courses(
        season_strip(
            data.plan,
            data.yard,
            data.state,
            first_after_days=data.numbers.forced.first_after_days,
            rest_days=data.numbers.schedule.rest_days,
        ),
        moisture_courses(data.plan, data.outlook, data.numbers.moisture.dead_below),
        weather_course(data.weather, data.outlook.futures, data.plan.weeks),
        {name: data.numbers.strain(name).range for name in STRAIN_CLASSES if name in classes},
    )


def report_page(data: ReportData) -> Page:
    """Return the report: the same plan, yard and weather give the same bytes."""
    courses = courses_of(data)
    figures = report_figures(data, courses)
    sheet = week_sheet(data.plan, data.yard, data.state, data.today)
    html = page_of(
        "report.html",
        yard=clean_line(data.yard.name),
        today=data.today,
        published=data.published,
        units=data.yard.units,
        weight=UNIT_OF_WEIGHT[data.yard.units][0],
        rain=UNIT_OF_RAIN[data.yard.units][0],
        sheet=sheet,
        supply=[figure for figure in figures if figure.name.startswith("supply")],
        orders=_orders(data),
        season=[figure for figure in figures if figure.name.startswith("season")],
        others=[figure for figure in figures if not figure.name.startswith(("supply", "season"))],
        facts=basis_facts(data, courses.weather),
        judgement=judgement_table(data),
        learned=learned_table(data),
        foretold=foretold_rows(data.foretold, data.yard.units),
        changed=model_change_lines(data.plan, data.yard.units),
        how_foretold=foretold_lines(data.foretold, data.yard.units),
        notes=[clean_line(note) for note in dict.fromkeys(data.plan.warnings)],
        attribution=clean_line(data.weather.attribution),
        cautions=growing_cautions(sells=data.yard.sells),
        sells=data.yard.sells,
        told=() if data.yard.sells else table_words(data.plan, data.yard),
    )
    return Page(html, figures)


def _orders(data: ReportData) -> tuple[str, ...]:
    regular = {outlet.name for outlet in data.yard.outlets}
    found = [sale for sale in data.plan.outlets if sale.outlet not in regular]
    return order_lines(found, data.yard.units)
