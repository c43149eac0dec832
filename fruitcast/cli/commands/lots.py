"""fruitcast lots."""

from __future__ import annotations

from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(
    app,
    "lots",
    examples=("fruitcast lots", "fruitcast lots --accept"),
    prints=("fruitcast.outputs.lots_words:YardLots",),
)
def lots(
    session: Session,
    accept: Annotated[
        bool, typer.Option("--accept", help="Take the lots proposed into the diary.")
    ] = False,
    offline: Offline = False,
) -> None:
    """Show which stacks bear too much at once, and the lots they would better be soaked in."""
    from fruitcast.app.lots import yard_lots
    from fruitcast.outputs.lots_words import lots_table

    with session.progress() as progress:
        found = yard_lots(
            session.yard,
            session.today,
            accept=accept,
            fetching=session.fetching(offline),
            moment=session.clock,
            progress=progress,
        )
    session.answer(found, lambda: lots_table(found))
