"""fruitcast stacks."""

from __future__ import annotations

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(
    app, "stacks", examples=("fruitcast stacks",), prints=("fruitcast.diary.kept_plan:Standing",)
)
def stacks(session: Session, offline: Offline = False) -> None:
    """Show each stack as it stands today: spawn run or bearing, moisture, rest, next soak."""
    from fruitcast.app.standing import stacks_today
    from fruitcast.outputs.terminal import stacks_table

    with session.progress() as progress:
        standing = stacks_today(
            session.yard, session.today, fetching=session.fetching(offline), progress=progress
        )
    if standing.planned_on != session.today:  # a plan of today told its notes when it was made
        session.notes(standing.warnings)
    if standing.planned_on is None:
        session.say("No plan was published yet, so no next soak is known: 'fruitcast plan'.")
    elif standing.planned_on != session.today:
        session.say(f"The next soaks are those of the plan of {standing.planned_on}.")
    if standing.losses:
        session.say(standing.losses)
    session.answer(standing, lambda: stacks_table(standing.stacks, standing.natural_days))
