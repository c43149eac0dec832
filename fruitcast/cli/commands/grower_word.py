"""fruitcast fix, hold, release, promised, fixed: the grower's word."""

from __future__ import annotations

from typing import Annotated

import typer

from fruitcast.cli.commands.record import TAKEN_IN, Yes, ask_and_settle
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
        from fruitcast.app.grower_word import cost_words, understand_word, write_word
        from fruitcast.cli.tables import lines

        with session.progress() as progress:
            progress("weighing it")
            read, cost, units = understand_word(
                session.yard,
                session.today,
                [kind, *(words or [])],
                now=session.now,
                offline=offline,
                yes=yes,
            )
        ask_and_settle(session, read)
        written = write_word(session.yard, session.today, read, cost, session.clock)
        told = [entry.words for entry in written.recorded]
        if cost is not None and kind != "release":
            told.append(cost_words(cost, units))
        if written.said:
            told.append(written.said)
        session.answer(written, lambda: lines(told))
        session.say(TAKEN_IN)

    run.__doc__ = f"{what}: {KINDS[kind].examples[0]}."
    shown = [f"fruitcast {line}" for line in KINDS[kind].examples]
    command(app, kind, examples=shown, prints=PRINTS)(run)


for _kind in ("fix", "hold", "release", "promised"):
    _register(_kind, KINDS[_kind].what)


@command(
    app,
    "fixed",
    examples=("fruitcast fixed",),
    prints=("fruitcast.app.grower_word:WordsInForce",),
)
def fixed(session: Session) -> None:
    """List what you have fixed, kept back and promised."""
    from fruitcast.app.grower_word import words_in_force
    from fruitcast.cli.tables import lines

    found = words_in_force(session.yard, session.today)
    nothing = "Nothing is fixed, kept back or promised."
    session.answer(found, lambda: lines([word.words for word in found.words] or [nothing]))
