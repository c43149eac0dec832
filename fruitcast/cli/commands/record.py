"""fruitcast record."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fruitcast.cli.root import command, group, stack_names
from fruitcast.cli.session import Session
from fruitcast.diary.entries import KINDS
from fruitcast.diary.events import UNDO

if TYPE_CHECKING:
    from fruitcast.app.recording import Recorded

record = group(
    "record",
    "Write down what was done or seen; numbers without a unit are in the yard's units. "
    "A day may stand at the end: yesterday, Tue, 2027-05-01.",
    examples=(
        "fruitcast record pick A 2 lb 6 oz",
        "fruitcast record soak A 24 h yesterday",
        "fruitcast record put B and C in the tank this morning",
    ),
    otherwise="words",
)

TAKEN_BACK = "'fruitcast record undo' takes it back."
_PLANNED = "'fruitcast plan' takes it into the plan"
TAKEN_IN = f"{_PLANNED}; {TAKEN_BACK}"

PRINTS = ("fruitcast.app.recording:EntriesRecorded",)

Yes = Annotated[
    bool,
    typer.Option(
        "--yes",
        "-y",
        help="Record it without questions, however unlikely; what may mean two things is refused.",
    ),
]


def _register(kind: str, what: str, examples: Sequence[str]) -> None:
    def run(
        session: Session,
        words: Annotated[
            list[str] | None,
            typer.Argument(
                metavar="WORDS...", help="The record in words.", autocompletion=stack_names
            ),
        ] = None,
        yes: Yes = False,
    ) -> None:
        from fruitcast.app.recording import understand

        _write(session, understand(*session.here, [kind, *(words or [])], yes=yes))

    run.__doc__ = f"{what}: {examples[0]}."
    shown = [f"fruitcast record {line}" for line in examples]
    command(record, kind, examples=shown, prints=PRINTS)(run)


for _kind, _listed in KINDS.items():
    if _listed.examples:
        _register(_kind, _listed.what, _listed.examples)


@command(
    record, "words", examples=("fruitcast record words found mould on 2 logs of A",), prints=PRINTS
)
def words_alone(
    session: Session,
    words: Annotated[list[str], typer.Argument(metavar="WORDS...", help="The record in words.")],
    yes: Yes = False,
) -> None:
    """Write down a sentence that says itself what it is; the word 'words' may be left out."""
    from fruitcast.app.recording import understand

    _write(session, understand(*session.here, words, yes=yes))


@command(record, "undo", examples=("fruitcast record undo",), prints=PRINTS)
def undo(
    session: Session,
    entry: Annotated[
        str | None,
        typer.Argument(
            metavar="[ENTRY]",
            help="Its first letters as 'fruitcast diary show' lists them; else the last entry.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Take back the last entry, or a named one; it stays in the diary, marked."""
    from fruitcast.app.recording import understand_undo

    _write(session, [understand_undo(*session.here, entry)])


@command(record, "sheet", examples=("fruitcast record sheet records.txt",), prints=PRINTS)
def sheet(
    session: Session,
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="One record a line; - reads standard input.")
    ],
    yes: Yes = False,
) -> None:
    """Write down a whole sheet of records, all or none."""
    from fruitcast.app.recording import read_lines, understand_sheet

    lines = sys.stdin.read().splitlines() if str(file) == "-" else read_lines(file)
    _write(session, understand_sheet(*session.here, lines, yes=yes))


def _write(session: Session, records: Sequence[Recorded]) -> None:
    """Ask what is doubtful, write the records and say what was understood."""
    from fruitcast.app.recording import doubts_of_writing, write_records

    session.notes(doubts_of_writing(*session.here, session.now))
    for read in records:
        ask_about_doubts(session, read)
    written = write_records(*session.here, records, session.clock)
    session.answer(written, [entry.words for entry in written.recorded])
    if any(read.event.kind == UNDO for read in records):
        # Nothing takes an undo back: what it took is written anew.
        if written.planned:
            session.say(f"{_PLANNED}.")
    else:
        session.say(TAKEN_IN if written.planned else TAKEN_BACK)


def ask_about_doubts(session: Session, read: Recorded) -> None:
    """Ask what is doubtful of a record; what is not confirmed ends here."""
    from fruitcast.errors import InputError

    ask = asker(session)
    for question in read.questions:
        if ask is None and question in read.choices:
            raise InputError(f"{_ended(question)} Write it out; nothing was recorded.")
        if ask is None:
            raise InputError(
                f"{_ended(question)} Nothing was recorded. If it is right, add --yes to record: "
                f"{read.understood}"
            )
        told = read.understood.rstrip(".")  # a question that says it itself says it once
        if not ask(question if told in question else f"{read.understood}\n{question}"):
            raise InputError("Nothing was recorded.")


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith((".", "?")) else f"{sentence}."


def asker(session: Session, last: str = "Record it all the same?") -> Callable[[str], bool] | None:
    """Return a way to ask, with that at the end; None when nobody is there to answer."""
    if not session.attended:
        return None
    return lambda question: session.ask(question, f"{last} [y/N] ").lower() in ("y", "yes")
