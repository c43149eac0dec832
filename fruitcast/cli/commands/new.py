"""fruitcast demo and new: how a yard begins."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Literal

import typer

from fruitcast.cli.root import AsItStands, app, command
from fruitcast.cli.session import Session
from fruitcast.errors import InputError

FEW_STEPS = 3
"""So many of the next commands are told; 'fruitcast' alone tells all."""


@command(
    app,
    "demo",
    examples=("fruitcast demo", "fruitcast demo my-trial"),
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
    from fruitcast.cli.tables import exactly, steps_table
    from fruitcast.outputs.listing import lines
    from fruitcast.outputs.terminal import PlanAnswer

    today = demo_day(weather, as_it_stands=as_it_stands)
    today = session.day or today
    yard = write_sample_yard(folder or FOLDER, weather=weather, today=today)
    session.say(f"The sample yard is in {yard}. Today is taken to be {today}.")
    with session.progress() as progress:
        planned = plan_yard(yard, today, progress=progress)
    answer = PlanAnswer(planned.document, planned.known.yard, planned.known.state)
    shown = folder or FOLDER
    steps = next_steps(shown, today, here=False)
    calendar = planned.known.yard.out_folder / "calendar.ics"
    session.answer(
        DemoMade(
            folder=str(yard), today=today, calendar=str(calendar), plan=planned.document, next=steps
        ),
        lambda: Group(
            lines(["The calendar, to be opened on your phone or computer:"]),
            exactly(str(calendar)),
            lines(["What to type next:"]),
            steps_table((*activation(), *steps[:FEW_STEPS])),
            answer.table(),
        ),
        planned.document.warnings,
        answer.short,
    )


@command(
    app,
    "new",
    examples=(
        "fruitcast new my-yard",
        "fruitcast new my-yard --place 'Ithaca, NY'",
        "fruitcast new my-yard --place '42.44, -76.50' --weather download.csv",
    ),
    prints=("fruitcast.app.starting:YardStarted",),
)
def new(
    session: Session,
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The yard's folder.")],
    place: Annotated[
        str | None,
        typer.Option(
            metavar="PLACE",
            help="Where it is: latitude and longitude as a map shows them, or a town with a "
            "weather station (needs the network).",
        ),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Daily weather to take in; else that of the nearest open station."
        ),
    ] = None,
    as_it_stands: AsItStands = False,
    name: Annotated[str | None, typer.Option(help="The yard's name; else the folder's.")] = None,
    latitude: Annotated[
        float | None, typer.Option(help="Degrees with decimals, north positive.")
    ] = None,
    longitude: Annotated[
        float | None, typer.Option(help="Degrees with decimals, east positive.")
    ] = None,
    elevation: Annotated[
        str | None, typer.Option(metavar="HEIGHT", help="Above the sea, like '790 ft' or '240 m'.")
    ] = None,
    timezone: Annotated[
        str | None,
        typer.Option(help="Like America/New_York; else that of the place.", metavar="ZONE"),
    ] = None,
    units: Annotated[
        Literal["us", "metric"] | None,
        typer.Option(help="What you want to see; else as usual where you are.", show_default=False),
    ] = None,
    station: Annotated[
        str | None, typer.Option(help="A weather station's number, or 'nearest'.")
    ] = None,
    soak_day: Annotated[
        list[str] | None, typer.Option(metavar="DAY", help="Like Tue; may be given several times.")
    ] = None,
    tank_logs: Annotated[int | None, typer.Option(help="Logs that fit the tank.")] = None,
    sells: Annotated[
        bool | None,
        typer.Option(
            "--sells/--table",
            help="Whether you sell mushrooms, or they are for your own table.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Start a yard that can be planned at once: commented settings and example stacks in DIR."""
    from rich.console import Group

    from fruitcast.app.starting import start_yard
    from fruitcast.cli.root import activation
    from fruitcast.cli.tables import steps_table
    from fruitcast.outputs.listing import lines
    from fruitcast.units import parse_length
    from fruitcast.yard.starter import NewYard

    if place is None and latitude is None and longitude is None:
        place = _asked(session)
    if sells is None:
        sells = _sells(session)
    told = NewYard(
        name=name or "",
        place=place or "",
        latitude=latitude,
        longitude=longitude,
        elevation_m=None if elevation is None else parse_length(elevation),
        timezone=timezone,
        units=units,
        station=station,
        soak_days=soak_day,
        tank_logs=tank_logs,
        sells=sells,
    )
    with session.progress() as progress:
        progress("looking the place up")
        started = start_yard(
            folder,
            session.today,
            told,
            environ=os.environ,
            now=session.now,
            weather=weather,
            as_it_stands=as_it_stands,
        )
    steps = started.steps()
    typed = (*activation(), *steps)
    session.answer(
        started.document(steps),
        lambda: Group(lines(started.words()), lines(["What to type next:"]), steps_table(typed)),
    )


def _asked(session: Session) -> str:
    """Ask for the place, where somebody is there to answer; nothing leaves it to guessing."""
    if not session.attended:
        return ""
    from fruitcast.app.starting import computers_zone

    guess = computers_zone(os.environ)
    default = f"the middle of {guess}" if guess else "an example, to be changed later"
    return session.ask(
        "Where is the yard? Latitude and longitude as a map shows them, like 42.44, -76.50,\n"
        "or a town with a weather station, like Ithaca, NY.",
        f"[Enter: {default}] ",
    )


_SELLS = {"y": True, "yes": True, "n": False, "no": False}


def _sells(session: Session) -> bool:
    """Ask whether anything is sold, where somebody is there to answer; else it is."""
    if not session.attended:
        return True
    question = "Do you sell mushrooms? If not, the plan is for your own table."
    answer = session.ask(question, "[y or n; Enter: y] ").lower() or "y"
    if answer not in _SELLS:
        answer = session.ask(f"'{answer}' is neither yes nor no. {question}", "[y or n] ").lower()
    if answer not in _SELLS:
        raise InputError(
            f"'{answer}' is neither yes nor no, so no yard was begun. Begin again and answer y or "
            "n, or give --sells or --table."
        )
    return _SELLS[answer]
