"""fruitcast report."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(
    app,
    "report",
    examples=(
        "fruitcast report",
        "fruitcast report --output shed-door.html",
    ),
    prints=("fruitcast.app.reporting:ReportWritten",),
)
def report(
    session: Session,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", "-o", metavar="FILE", help="Where to; else report.html in the out folder."
        ),
    ] = None,
    offline: Offline = False,
) -> None:
    """Write one HTML file to print or to read on the phone: jobs, supply, season, weather."""
    from fruitcast.app.reporting import write_report
    from fruitcast.cli.tables import exactly

    with session.progress() as progress:
        written = write_report(
            session.yard,
            session.today,
            output,
            fetching=session.fetching(offline),
            progress=progress,
        )
    session.notes(written.data.plan.warnings)
    if not written.data.published:
        session.say(
            "No plan of today stands as yard, weather and diary are now; this one was made for "
            "the report and is not published. 'fruitcast plan' publishes one."
        )
    session.answer(written.document(), lambda: exactly(str(written.file)))
    session.say("Open it in any browser; print it on A4 or Letter.")
