"""fruitcast yards and outlook: many yards, and the places of a district."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from fruitcast.cli.root import Offline, app, command, to_file
from fruitcast.cli.session import Session, StoppedError


@command(
    app,
    "yards",
    examples=(
        "fruitcast yards my-growers",
        "fruitcast yards my-growers --processes 4",
        "fruitcast yards my-growers --cluster tcp://192.168.1.20:8786",
    ),
    prints=("fruitcast.group.round:Round",),
)
def yards(
    session: Session,
    folder: Annotated[
        Path,
        typer.Argument(
            metavar="FOLDER",
            show_default=False,
            help="Holds the yards' folders; a group.toml in it may name them.",
        ),
    ],
    weeks: Annotated[int, typer.Option(min=1, max=52, help="How far to plan.")] = 26,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the plans' random draws.")] = 1,
    processes: Annotated[int, typer.Option(min=1, help="Yards at a time on this machine.")] = 2,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            show_default=False,
            help="Address of a dask scheduler, whose workers plan the yards.",
        ),
    ] = None,
    offline: Offline = False,
) -> None:
    """Go round many yards: who must soak what this week, and who wants a word.

    Only yards that changed since are planned again. Nothing is written into a yard: the round is
    in the folder's own 'out', round.html to print. A yard that can't be planned is told with the
    reason, the others go on, and the exit code is 1 then.

    Outlets and orders in group.toml are sold to together: each yard offers what it can spare.
    """
    from fruitcast.app.group import make_round
    from fruitcast.outputs.round_words import round_table

    with session.reckoning(offline) as how:
        try:
            made = make_round(
                folder,
                session.today,
                weeks=weeks,
                seed=seed,
                processes=processes,
                cluster=cluster,
                **how,
            )
        except KeyboardInterrupt:
            raise StoppedError(
                "Yards that are planned are kept: the same command goes on with the others."
            ) from None
    session.answer(made.document, lambda: round_table(made.document))
    kept = len(made.document.yards) - made.planned - made.faulty
    session.say(f"{made.planned} planned, {kept} as before. To print: {made.page}")
    if made.joint_sales_page is not None:
        session.say(
            f"To hand round: {made.joint_sales_page}; each yard's own part: its 'members' folder."
        )
    if made.faulty:
        raise typer.Exit(1)


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
        Path | None, to_file("Where to; else out/outlook.html beside the table.")
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
    from fruitcast.app.group import make_district
    from fruitcast.outputs.district_words import district_table

    with session.reckoning(offline) as how:
        made = make_district(
            places,
            session.today,
            units=units,
            output=output,
            processes=processes,
            cluster=cluster,
            **how,
        )
    session.answer(made.document, lambda: district_table(made.document))
    session.say(f"To print: {made.page}")
    if made.faulty:
        raise typer.Exit(1)
