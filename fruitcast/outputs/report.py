"""The report: one HTML file without network, for the shed door and the phone."""

from __future__ import annotations

from dataclasses import dataclass

from fruitcast.outputs.cautions import growing_cautions
from fruitcast.outputs.evidence_words import foretold_lines, foretold_rows
from fruitcast.outputs.page_templates import page_of
from fruitcast.outputs.plan_words import model_change_lines
from fruitcast.outputs.report_basis import basis_facts, judgement_table, learned_table
from fruitcast.outputs.report_data import moisture_courses
from fruitcast.outputs.report_figures import report_figures
from fruitcast.outputs.report_parts import Courses, Figure, ReportData
from fruitcast.outputs.report_season import season_strip
from fruitcast.outputs.report_weather import fruiting_range, weather_course
from fruitcast.outputs.report_week import week_sheet
from fruitcast.outputs.report_words import order_lines
from fruitcast.outputs.table_words import table_words
from fruitcast.topics import STRAIN_CLASSES
from fruitcast.words import clean_line


@dataclass(frozen=True)
class Page:
    """A report as it is written.

    Attributes
    ----------
    html : bytes
        The whole file, UTF-8.
    figures : tuple of Figure
        Its figures.
    """

    html: bytes
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
        tuple(
            fruiting_range(name, data.numbers.strain(name).range)
            for name in STRAIN_CLASSES
            if name in classes
        ),
    )


def report_page(data: ReportData) -> Page:
    """Return the report: the same plan, yard and weather give the same bytes.

    Parameters
    ----------
    data : ReportData
        What it tells of.
    """
    courses = courses_of(data)
    figures = report_figures(data, courses)
    sheet = week_sheet(data.plan, data.yard, data.state, data.today)
    html = page_of(
        "report.html",
        yard=clean_line(data.yard.name),
        today=data.today,
        published=data.published,
        units=data.yard.units,
        weight="lb" if data.yard.units == "us" else "kg",
        rain="in" if data.yard.units == "us" else "mm",
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
