"""The report of a day: what is known, the plan published or made for it, as one HTML file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pydantic import Field

from fruitcast.app.choosing import build
from fruitcast.app.known import DEFAULT_WEEKS, horizon_days, read_known
from fruitcast.app.planning import make_plan
from fruitcast.app.publication import foretelling, fresh_plan
from fruitcast.atomic import write_atomically
from fruitcast.diary.book import read_events
from fruitcast.diary.events import in_force
from fruitcast.document import Day, Document
from fruitcast.outputs.report import Page, report_page
from fruitcast.outputs.report_parts import ReportData
from fruitcast.progress import Progress, silent
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard.reading import read_yard

FILE = "report.html"
"""Name of the report in the yard's `out` folder."""


class FigureInWords(Document):
    """A figure as sentences and a table, in words for people."""

    figure: str
    title: str
    text: tuple[str, ...] = Field(description="sentences")
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class ReportWritten(Document):
    """What 'report --json' prints."""

    today: Day
    file: str
    bytes: int
    plan_published: bool
    figures: tuple[FigureInWords, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Reported:
    """A report that was written."""

    file: Path
    data: ReportData  # what it tells of
    page: Page

    def document(self) -> ReportWritten:
        """Return what was written as it is printed."""
        return ReportWritten(
            today=self.data.today,
            file=str(self.file),
            bytes=len(self.page.html),
            plan_published=self.data.published,
            figures=tuple(
                FigureInWords.taken_from(
                    figure,
                    figure=figure.name,
                    columns=figure.table.columns,
                    rows=figure.table.rows,
                )
                for figure in self.page.figures
            ),
            warnings=self.data.plan.warnings,
        )


def report_data(
    folder: Path, today: date, *, fetching: Fetching = AS_USUAL, progress: Progress = silent
) -> ReportData:
    """Return what a report tells of; nothing is written.

    The plan published today serves as long as yard, weather and diary are as they were then;
    else a plan is made without its proof.

    Parameters as in `planning.plan_yard`.
    """
    plan = fresh_plan(read_yard(folder, today), today)
    weeks = plan.weeks if plan else DEFAULT_WEEKS
    ahead = horizon_days(weeks)
    known = read_known(folder, today, ahead, fetching=fetching, progress=progress)
    published = plan is not None
    if plan is None:
        planned = make_plan(known, progress=progress)
        plan, built = planned.document, planned.built
    else:
        progress("looking ahead")
        built = build(known, weeks=weeks, seed=plan.seed)
    days = [event.on for event in in_force(read_events(known.yard.diary_file)) if event.on <= today]
    return ReportData(
        today,
        known.yard,
        known.state,
        plan,
        published,
        built.outlook,
        known.weather,
        known.numbers,
        max(days, default=None),
        foretelling(known.yard, today, plan),
    )


def write_report(
    folder: Path,
    today: date,
    file: Path | None = None,
    *,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> Reported:
    """Write the report of a day, whole or not at all.

    Without `file` it is `report.html` in the yard's `out` folder.
    """
    data = report_data(folder, today, fetching=fetching, progress=progress)
    progress("drawing")
    page = report_page(data)
    target = file or data.yard.out_folder / FILE
    write_atomically(target, page.html)
    return Reported(target, data, page)
