"""fruitcast demo."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fruitcast.cli.root import AsItStands, app, command
from fruitcast.cli.session import Session

FEW_STEPS = 3
"""So many of the next commands are told; 'fruitcast' alone tells all."""


@command(
    app,
    "demo",
    examples=(
        "fruitcast demo",
        "fruitcast demo my-trial",
    ),
    prints=("fruitcast.app.short_answers:DemoMade",),
)
def demo(
    session: Session,
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="[DIR]", help="A new folder; else fruitcast-demo.", show_default=False
        ),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Daily weather to take instead of the invented one; dates move."
        ),
    ] = None,
    as_it_stands: AsItStands = False,
) -> None:
    """Write an invented yard into DIR and run the whole job on it."""
    from rich.console import Group

    from fruitcast.app.demo import FOLDER, demo_day, write_sample_yard
    from fruitcast.app.planning import plan_yard
    from fruitcast.app.short_answers import DemoMade
    from fruitcast.app.welcome import next_steps
    from fruitcast.cli.root import activation
    from fruitcast.cli.tables import exactly, lines, steps_table
    from fruitcast.outputs.terminal import plan_table, short_answer

    today = demo_day(weather, as_it_stands=as_it_stands)
    today = session.day or today
    yard = write_sample_yard(folder or FOLDER, weather=weather, today=today)
    session.say(f"The sample yard is in {yard}. Today is taken to be {today}.")
    with session.progress() as progress:
        planned = plan_yard(yard, today, progress=progress)
    shown = folder or FOLDER
    steps = next_steps(shown, today, here=False)
    calendar = planned.known.yard.out_folder / "calendar.ics"
    session.answer(
        DemoMade(
            folder=str(yard),
            today=today,
            calendar=str(calendar),
            plan=planned.document,
            next=steps,
        ),
        lambda: Group(
            lines(["The calendar, to be opened on your phone or computer:"]),
            exactly(str(calendar)),
            lines(["What to type next:"]),
            steps_table((*activation(), *steps[:FEW_STEPS])),
            plan_table(planned.document, planned.known.yard, planned.known.state),
        ),
        planned.document.warnings,
        lambda: short_answer(planned.document, planned.known.yard, planned.known.state),
    )
