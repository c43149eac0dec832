"""fruitcast outlook."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(
    app,
    "outlook",
    examples=(
        "fruitcast outlook places.csv",
        "fruitcast outlook places.csv --units us --output newsletter.html",
    ),
    prints=("fruitcast.group.district:District",),
)
def outlook(
    session: Session,
    places: Annotated[
        Path,
        typer.Argument(
            metavar="PLACES",
            show_default=False,
            help="A table: place, latitude, longitude, elevation_m or elevation_ft, and file or "
            "station; the day of inoculation too, if you like.",
        ),
    ],
    units: Annotated[
        Literal["us", "metric"], typer.Option(help="In which units rain is told.")
    ] = "metric",
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Where to; else out/outlook.html beside the table.",
        ),
    ] = None,
    processes: Annotated[int, typer.Option(min=1, help="Places at a time on this machine.")] = 2,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", show_default=False, help="Address of a dask scheduler."),
    ] = None,
    offline: Offline = False,
) -> None:
    """Tell a district how its logs stand: spawn runs, moisture, natural flushes, soaks this week.

    Told of a standard log of each class at each place, with a paragraph for a newsletter. Three
    years of daily weather a place are the least, better ten; weather files lie beside the table.
    """
    from fruitcast.app.district import make_district
    from fruitcast.cli.group_tables import district_table

    with session.progress() as progress:
        made = make_district(
            places,
            session.today,
            units=units,
            output=output,
            processes=processes,
            cluster=cluster,
            fetching=session.fetching(offline),
            progress=progress,
        )
    session.answer(made.document, lambda: district_table(made.document))
    session.say(f"To print: {made.page}")
    if made.faulty:
        raise typer.Exit(1)
