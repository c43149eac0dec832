"""fruitcast try: what if this stack were soaked then?"""

from __future__ import annotations

from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command, stack_names
from fruitcast.cli.session import Session


@command(
    app,
    "try",
    examples=("fruitcast try F tuesday", "fruitcast try F 11 may 48 h --whole"),
    prints=("fruitcast.outputs.what_if_words:SoakTriedOut",),
)
def try_soak(
    session: Session,
    words: Annotated[
        list[str],
        typer.Argument(
            metavar="STACK DAY [HOURS]", help="Which, and when.", autocompletion=stack_names
        ),
    ],
    whole: Annotated[
        bool, typer.Option("--whole", help="Plan the season anew with it, as 'plan' does.")
    ] = False,
    offline: Offline = False,
) -> None:
    """Tell what a soak would bring and what it would take from others; nothing is written."""
    from fruitcast.app.trying import try_soak as tried_soak
    from fruitcast.cli.tables import lines
    from fruitcast.outputs.what_if_words import soak_tried_lines

    with session.progress() as progress:
        found = tried_soak(
            session.yard,
            session.today,
            words,
            whole=whole,
            now=session.now,
            offline=offline,
            progress=progress,
        )
    session.answer(found, lambda: lines(soak_tried_lines(found)))
    if not found.forbidden:
        session.say(f"Nothing was written. To have it so: fruitcast fix {' '.join(words)}")
