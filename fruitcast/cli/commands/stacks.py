"""fruitcast check, stacks and lots: what is wrong, how stacks stand, in which parts they soak."""

from __future__ import annotations

from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(
    app,
    "check",
    examples=("fruitcast check", "fruitcast check --numbers"),
    prints=("fruitcast.app.checking:CheckedYard", "fruitcast.app.checking:NumbersListed"),
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

    if numbers:
        listed = numbers_in_use(session.yard)
        session.answer(NumbersListed(numbers=listed), lambda: numbers_table(listed))
        return
    checked = check_yard(*session.here, fetching=session.fetching(offline))
    session.notes(checked.warnings, most=None)
    if checked.sound or session.json:
        session.answer(checked.document(), checked.words())
    if checked.faults:
        session.complain(FaultsError(checked.faults))
    for error in checked.errors:
        session.complain(FruitcastError(error))
    if not checked.sound:
        raise typer.Exit(1)


@command(
    app, "stacks", examples=("fruitcast stacks",), prints=("fruitcast.diary.kept_plan:Standing",)
)
def stacks(session: Session, offline: Offline = False) -> None:
    """Show each stack as it stands today: spawn run or bearing, moisture, rest, next soak."""
    from fruitcast.app.standing import stacks_today
    from fruitcast.outputs.terminal import stacks_table

    with session.reckoning(offline) as how:
        standing = stacks_today(*session.here, **how)
    if standing.planned_on != session.today:  # a plan of today told its notes when it was made
        session.notes(standing.warnings)
    if standing.planned_on is None:
        session.say("No plan was published yet, so no next soak is known: 'fruitcast plan'.")
    elif standing.planned_on != session.today:
        session.say(f"The next soaks are those of the plan of {standing.planned_on}.")
    if standing.losses:
        session.say(standing.losses)
    session.answer(standing, lambda: stacks_table(standing.stacks, standing.natural_days))


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
    from fruitcast.app.standing import yard_lots
    from fruitcast.outputs.lots_words import lots_table

    with session.reckoning(offline) as how:
        found = yard_lots(*session.here, accept=accept, moment=session.clock, **how)
    session.answer(found, lambda: lots_table(found))
