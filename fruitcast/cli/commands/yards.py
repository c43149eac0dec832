"""fruitcast yards."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command
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
    from fruitcast.app.round import make_round
    from fruitcast.cli.group_tables import round_table

    with session.progress() as progress:
        try:
            made = make_round(
                folder,
                session.today,
                weeks=weeks,
                seed=seed,
                processes=processes,
                cluster=cluster,
                fetching=session.fetching(offline),
                progress=progress,
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
