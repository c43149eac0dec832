"""fruitcast check."""

from __future__ import annotations

from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(
    app,
    "check",
    examples=(
        "fruitcast check",
        "fruitcast check --numbers",
    ),
    prints=(
        "fruitcast.app.checking:CheckedYard",
        "fruitcast.app.checking:NumbersListed",
    ),
)
def check(
    session: Session,
    numbers: Annotated[
        bool,
        typer.Option("--numbers", help="List every number of the model with its source instead."),
    ] = False,
    offline: Offline = False,
) -> None:
    """Find every fault in the yard's files, weather and diary, with place and remedy."""
    from fruitcast.app.checking import NumbersListed, check_yard, numbers_in_use
    from fruitcast.cli.tables import numbers_table
    from fruitcast.errors import FaultsError, FruitcastError
    from fruitcast.outputs.listing import lines

    if numbers:
        listed = numbers_in_use(session.yard)
        session.answer(NumbersListed(numbers=listed), lambda: numbers_table(listed))
        return
    checked = check_yard(session.yard, session.today, fetching=session.fetching(offline))
    session.notes(checked.warnings, most=None)
    if checked.sound or session.json:
        session.answer(checked.document(), lambda: lines(checked.words()))
    if checked.faults:
        session.complain(FaultsError(checked.faults))
    for error in checked.errors:
        session.complain(FruitcastError(error))
    if not checked.sound:
        raise typer.Exit(1)
