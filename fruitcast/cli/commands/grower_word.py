"""fruitcast fix, hold, release, promised, fixed, try: the grower's word."""

from __future__ import annotations

from typing import Annotated

import typer

from fruitcast.cli.commands.record import TAKEN_IN, Yes, ask_about_doubts
from fruitcast.cli.root import Offline, app, command, stack_names
from fruitcast.cli.session import Session
from fruitcast.diary.entries import KINDS

PRINTS = ("fruitcast.app.grower_word:WordGiven",)


def _register(kind: str, what: str) -> None:
    def run(
        session: Session,
        words: Annotated[
            list[str] | None,
            typer.Argument(
                metavar="WORDS...", help="Whom or what, and when.", autocompletion=stack_names
            ),
        ] = None,
        yes: Yes = False,
        offline: Offline = False,
    ) -> None:
        from fruitcast.app.grower_word import cost_words, taken_off, understand_word, write_word

        with session.progress() as progress:
            progress("weighing it")
            read, cost, units = understand_word(
                *session.here,
                [kind, *(words or [])],
                fetching=session.fetching(offline),
                yes=yes,
            )
        ask_about_doubts(session, read)
        written = write_word(*session.here, read, cost, session.clock)
        told = [entry.words for entry in written.recorded]
        if cost is not None and kind != "release":
            told.append(cost_words(cost, units))
        if written.said:
            told.append(written.said)
        session.answer(written, told)
        if off := taken_off(read.event):
            session.say(f"To take the promise off: fruitcast {off}")
        session.say(TAKEN_IN)

    run.__doc__ = f"{what}: {KINDS[kind].examples[0]}."
    shown = [f"fruitcast {line}" for line in KINDS[kind].examples]
    command(app, kind, examples=shown, prints=PRINTS)(run)


for _kind in ("fix", "hold", "release", "promised"):
    _register(_kind, KINDS[_kind].what)


@command(
    app, "fixed", examples=("fruitcast fixed",), prints=("fruitcast.app.grower_word:WordsInForce",)
)
def fixed(session: Session) -> None:
    """List what you have fixed, kept back and promised."""
    from fruitcast.app.grower_word import words_in_force

    found = words_in_force(*session.here)
    nothing = "Nothing is fixed, kept back or promised."
    session.answer(found, [word.words for word in found.words] or [nothing])
    if found.words:
        session.say("'fruitcast release' with the stack or the outlet takes one off.")


# fruitcast try: what if this stack were soaked then?


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
    from fruitcast.app.what_if import try_soak as tried_soak
    from fruitcast.outputs.what_if_words import soak_tried_lines

    with session.reckoning(offline) as how:
        found = tried_soak(*session.here, words, whole=whole, **how)
    session.answer(found, soak_tried_lines(found))
    if not found.forbidden:
        session.say(f"Nothing was written. To have it so: fruitcast fix {' '.join(words)}")
