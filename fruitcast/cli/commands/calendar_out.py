"""fruitcast calendar."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from fruitcast.cli.root import app, command, to_file
from fruitcast.cli.session import Session


@command(
    app,
    "calendar",
    examples=(
        "fruitcast calendar",
        "fruitcast calendar --output soaks.ics",
        "fruitcast calendar --push https://dav.example.org/me/soaks/ --user me",
    ),
    prints=("fruitcast.app.calendar_out:CalendarWritten",),
)
def calendar(
    session: Session,
    output: Annotated[Path | None, to_file("Where to write it; else out/calendar.ics.")] = None,
    push: Annotated[
        str | None,
        typer.Option(metavar="URL", help="Bring the CalDAV calendar at this address in step."),
    ] = None,
    user: Annotated[
        str | None,
        typer.Option(
            help="User on the calendar server; the password is taken from "
            "FRUITCAST_CALDAV_PASSWORD."
        ),
    ] = None,
    ca_file: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Certificates to trust besides the usual.")
    ] = None,
    overwrite: Annotated[
        bool,
        typer.Option("--overwrite", help="Push over what somebody else changed in our events."),
    ] = False,
) -> None:
    """Write the calendar of the last plan with what was done since, or push it to a server."""
    from fruitcast.app.calendar_out import push_calendar, write_calendar

    if push is None:
        out = write_calendar(*session.here, output)
    else:
        from fruitcast.outputs.caldav import PASSWORD_VARIABLE

        password = os.environ.get(PASSWORD_VARIABLE)
        if not user or not password:
            raise typer.BadParameter(
                f"--push needs --user, and the password in the environment as {PASSWORD_VARIABLE}"
            )
        with session.progress() as progress:
            progress("pushing")
            out = push_calendar(
                *session.here,
                push,
                user,
                password,
                file=output,
                ca_file=ca_file,
                overwrite=overwrite,
            )
    if out.planned_on != session.today:
        session.say(f"The calendar is that of the plan of {out.planned_on}.")
    session.notes(out.notes)
    session.answer(out.document(), out.words())
