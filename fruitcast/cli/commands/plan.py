"""fruitcast plan."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(app, "plan")
def plan(
    session: Session,
    weeks: Annotated[int, typer.Option(min=1, max=104, help="How far to plan.")] = 26,
    no_bound: Annotated[
        bool, typer.Option("--no-bound", help="Skip the proof of how good the plan is.")
    ] = False,
    problem: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Write the whole problem and the chosen soaks as JSON too."
        ),
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Seed of all random draws.")] = 1,
    promise: Annotated[
        float | None,
        typer.Option(min=0.05, max=0.99, help="Chance asked of a promise; else that of yard.toml."),
    ] = None,
    offline: Offline = False,
) -> None:
    """Plan the soaks and publish plan.csv, plan.json and calendar.ics in the yard's out folder."""
    from fruitcast.app.planning import plan_yard
    from fruitcast.publish.terminal import plan_table

    with session.progress() as progress:
        planned = plan_yard(
            session.yard,
            session.today,
            weeks=weeks,
            seed=seed,
            promise=promise,
            bound=not no_bound,
            problem_file=problem,
            now=session.now,
            offline=offline,
            progress=progress,
        )
    session.notes(planned.document["warnings"])
    session.say(f"Published in {planned.known.yard.out_folder}.")
    session.answer(planned.document, lambda: plan_table(planned.document, planned.known.yard))
