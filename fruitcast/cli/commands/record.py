"""fruitcast record."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fruitcast.cli.root import command, group
from fruitcast.cli.session import Session

if TYPE_CHECKING:
    from fruitcast.app.recording import Recorded

record = group(
    "record", "Write down what was done or seen; numbers without a unit are in the yard's units."
)

KINDS = {
    "soak": "Logs went into the tank: soak A 24 h, soak A 12 logs overnight.",
    "pull": "Logs came out of the tank: pull A.",
    "pick": "Mushrooms picked: pick A 2 lb 6 oz for Saturday market.",
    "pins": "Pins seen: pins A.",
    "fruiting": "A flush seen in the open: fruiting A.",
    "water": "Logs watered: water A 1 in, water all.",
    "rain": "The yard's own rain gauge: rain 0.6 in yesterday.",
    "weigh": "A sample log weighed: weigh A 29 lb, the first time weigh A 35 lb at 42 %.",
    "inspect": "Logs looked over: inspect A white ends, 2 dead.",
    "stock": "Mushrooms on hand, counted: stock 5 lb.",
    "sold": "Mushrooms sold: sold 5 lb Saturday market.",
    "discard": "Mushrooms thrown away: discard 1 lb from A.",
    "split": "A part becomes a stack of its own: split A 10 logs into K.",
    "merge": "A stack joins another: merge A into B.",
    "move": "A stack has a new place: move A to the north bank.",
    "retire": "Logs taken out for good: retire A 3 logs.",
    "note": "Anything else: note A bark peels.",
}
"""The kinds of record, each with an example."""

Yes = Annotated[
    bool, typer.Option("--yes", "-y", help="Record it without questions, however unlikely.")
]


def _register(kind: str, help_text: str) -> None:
    def run(
        session: Session,
        words: Annotated[
            list[str] | None, typer.Argument(metavar="WORDS...", help="The record in words.")
        ] = None,
        yes: Yes = False,
    ) -> None:
        from fruitcast.app.recording import understand

        read = understand(session.yard, session.today, kind, words or [], yes=yes)
        _write(session, [read])

    run.__doc__ = help_text
    command(record, kind)(run)


for _kind, _help in KINDS.items():
    _register(_kind, _help)


@command(record, "undo")
def undo(
    session: Session,
    entry: Annotated[
        str | None,
        typer.Argument(
            help="Beginning of the entry's uuid; else the last entry.", show_default=False
        ),
    ] = None,
) -> None:
    """Take back the last entry, or a named one; it stays in the diary, marked."""
    from fruitcast.app.recording import understand_undo

    _write(session, [understand_undo(session.yard, session.today, entry)])


@command(record, "sheet")
def sheet(
    session: Session,
    file: Annotated[Path, typer.Argument(help="One record a line; - reads standard input.")],
    yes: Yes = False,
) -> None:
    """Write down a whole sheet of records, all or none."""
    from fruitcast.app.recording import read_lines, understand_sheet

    lines = sys.stdin.read().splitlines() if str(file) == "-" else read_lines(file)
    _write(session, understand_sheet(session.yard, session.today, lines, yes=yes))


def _write(session: Session, records: Sequence[Recorded]) -> None:
    """Ask what is doubtful, write the records and say what was understood."""
    from fruitcast.app.recording import write_records
    from fruitcast.cli.tables import lines

    for read in records:
        _settle(read, _asker(session))
    entries = write_records(session.yard, session.today, records, session.clock)
    session.answer({"recorded": entries}, lambda: lines(entry["words"] for entry in entries))


def _settle(read: Recorded, ask: Callable[[str], bool] | None) -> None:
    from fruitcast.errors import InputError

    for question in read.questions:
        if ask is None:
            raise InputError(
                f"{read.understood} {question.rstrip('.')}. Nothing was recorded; if it is right, "
                "add --yes."
            )
        if not ask(f"{read.understood}\n{question}"):
            raise InputError("Nothing was recorded.")


def _asker(session: Session) -> Callable[[str], bool] | None:
    """Return a way to ask, None when nobody is there to answer."""
    if session.json or not sys.stdin.isatty():
        return None

    def ask(question: str) -> bool:
        session.say(question)
        sys.stderr.write("Record it all the same? [y/N] ")
        sys.stderr.flush()
        return sys.stdin.readline().strip().lower() in ("y", "yes")

    return ask
