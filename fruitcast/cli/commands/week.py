"""fruitcast week."""

from __future__ import annotations

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(app, "week", examples=("fruitcast week",), prints=("fruitcast.outputs.week:WeekAhead",))
def week(session: Session, offline: Offline = False) -> None:
    """Show what to do in the next 7 days, with reasons."""
    from fruitcast.app.jobs import this_week
    from fruitcast.outputs.terminal import week_table

    with session.progress() as progress:
        found = this_week(
            session.yard, session.today, fetching=session.fetching(offline), progress=progress
        )
    if found.not_renewed:
        session.say(found.not_renewed)
        session.say(
            f"The plan could not be renewed; this is the one published on {found.plan.today}."
        )
    elif not found.published:  # a published plan told its notes when it was made
        session.notes(found.plan.warnings)
        session.say(
            "No plan of today stands as yard, weather and diary are now; this one was made to "
            "answer and is not published. 'fruitcast plan' publishes one."
        )
    session.answer(
        found.document(), lambda: week_table(found.plan, found.yard, found.state, found.today)
    )
