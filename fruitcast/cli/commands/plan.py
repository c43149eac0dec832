"""fruitcast plan, week and report: the soaks to come, the jobs of this week, and both on paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fruitcast.cli.root import Offline, app, command, to_file
from fruitcast.cli.session import DOUBTFUL, Session

if TYPE_CHECKING:
    from fruitcast.app.what_if import Circumstances


@command(
    app,
    "plan",
    examples=(
        "fruitcast plan",
        "fruitcast plan --tank 80",
        "fruitcast plan --lots 18",
        "fruitcast plan --places 60",
        "fruitcast plan --target 'Saturday market=20 lb' --skip 2027-07-04..2027-07-10",
    ),
    prints=("fruitcast.diary.plan:Plan", "fruitcast.outputs.what_if_words:TriedOut"),
)
def plan(
    session: Session,
    weeks: Annotated[int, typer.Option(min=1, max=104, help="How far to plan.")] = 26,
    bound: Annotated[
        bool,
        typer.Option(
            "--bound/--no-bound",
            help="Prove how far the plan is from the best possible; takes a while.",
        ),
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
    everything: Annotated[
        bool, typer.Option("--all", help="Show the whole season, with every reason.")
    ] = False,
    tank: Annotated[
        int | None,
        typer.Option(metavar="LOGS", help="What if the tank held so many logs? Writes nothing."),
    ] = None,
    places: Annotated[
        int | None,
        typer.Option(
            metavar="LOGS", help="What if so many logs could stand to fruit? Writes nothing."
        ),
    ] = None,
    target: Annotated[
        list[str] | None,
        typer.Option(
            metavar="OUTLET=WEIGHT", help="What if an outlet wanted so much? Writes nothing."
        ),
    ] = None,
    skip: Annotated[
        list[str] | None,
        typer.Option(
            metavar="DAY..DAY", help="What if nobody worked on these days? Writes nothing."
        ),
    ] = None,
    lots: Annotated[
        int | None,
        typer.Option(
            metavar="LOGS", help="What if stacks were soaked in lots of so many? Writes nothing."
        ),
    ] = None,
    worth: Annotated[
        bool,
        typer.Option(
            "--worth",
            help="What a little more tank, soak days, logs or keeping would bring. Writes nothing.",
        ),
    ] = False,
) -> None:
    """Plan the soaks and publish plan.csv, plan.json and calendar.ics in the yard's out folder."""
    if worth or target or skip or any(given is not None for given in (tank, places, lots)):
        from fruitcast.app.what_if import Circumstances, parse_spans, parse_targets

        what = Circumstances(
            tank, parse_targets(target or []), parse_spans(skip or []), lot_logs=lots, places=places
        )
        _try_out(session, weeks, seed, offline, what, worth)
        return
    from fruitcast.app.planning import plan_yard

    with session.reckoning(offline) as how:
        planned = plan_yard(
            *session.here,
            weeks=weeks,
            seed=seed,
            promise=promise,
            bound=bound,
            problem_file=problem,
            **how,
        )
    # Loaded only now: it takes the room that planning has left.
    from fruitcast.outputs.terminal import PlanAnswer

    known = planned.known
    answer = PlanAnswer(planned.document, known.yard, known.state)
    session.say(
        f"Published in {known.yard.out_folder}: plan.csv, plan.json and calendar.ics, to be opened "
        "on your phone or computer."
    )
    session.answer(
        planned.document,
        lambda: answer.table(whole=everything),
        planned.document.warnings,
        answer.short,
    )
    if known.weather.doubtful:
        raise typer.Exit(DOUBTFUL)


def _try_out(
    session: Session, weeks: int, seed: int, offline: bool, what: Circumstances, worth: bool
) -> None:
    from fruitcast.app.what_if import try_out
    from fruitcast.outputs.what_if_words import WhatIf

    with session.reckoning(offline) as how:
        document = try_out(*session.here, what, weeks=weeks, seed=seed, worth=worth, **how)
    session.answer(document, lambda: WhatIf(document))


_NOT_PUBLISHED = (
    "No plan of today stands as yard, weather and diary are now; this one was made {} and is not "
    "published. 'fruitcast plan' publishes one."
)


@command(app, "week", examples=("fruitcast week",), prints=("fruitcast.outputs.week:WeekAhead",))
def week(session: Session, offline: Offline = False) -> None:
    """Show what to do in the next 7 days, with reasons."""
    from fruitcast.app.jobs import this_week
    from fruitcast.outputs.terminal import week_table

    with session.reckoning(offline) as how:
        found = this_week(*session.here, **how)
    if found.not_renewed:
        session.say(found.not_renewed)
        session.say(
            f"The plan could not be renewed; this is the one published on {found.plan.today}."
        )
    elif not found.published:  # a published plan told its notes when it was made
        session.notes(found.plan.warnings)
        session.say(_NOT_PUBLISHED.format("to answer"))
    session.answer(
        found.document(), lambda: week_table(found.plan, found.yard, found.state, found.today)
    )


@command(
    app,
    "report",
    examples=("fruitcast report", "fruitcast report --output shed-door.html"),
    prints=("fruitcast.app.reporting:ReportWritten",),
)
def report(
    session: Session,
    output: Annotated[Path | None, to_file("Where to; else report.html in the out folder.")] = None,
    offline: Offline = False,
) -> None:
    """Write one HTML file to print or to read on the phone: jobs, supply, season, weather."""
    from fruitcast.app.reporting import write_report
    from fruitcast.cli.tables import exactly

    with session.reckoning(offline) as how:
        written = write_report(*session.here, output, **how)
    session.notes(written.data.plan.warnings)
    if not written.data.published:
        session.say(_NOT_PUBLISHED.format("for the report"))
    session.answer(written.document(), lambda: exactly(str(written.file)))
    session.say("Open it in any browser; print it on A4 or Letter.")
