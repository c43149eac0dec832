"""fruitcast diary."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from fruitcast.cli.commands.record import asker
from fruitcast.cli.root import command, group, parse_day, stack_names, to_file
from fruitcast.cli.session import Session

diary = group(
    "diary",
    "Show the diary, take it out and in as CSV, see what went where.",
    examples=("fruitcast diary show", "fruitcast diary export diary.csv"),
)

Output = Annotated[Path | None, to_file("Write it as CSV instead of a table.")]
First = Annotated[
    date | None,
    typer.Option(
        "--from", parser=parse_day, metavar="YYYY-MM-DD", help="First day; else 1 January."
    ),
]
Last = Annotated[
    date | None,
    typer.Option("--to", parser=parse_day, metavar="YYYY-MM-DD", help="Last day; else today."),
]


@command(
    diary,
    "show",
    examples=("fruitcast diary show", "fruitcast diary show --stack A --last 5"),
    prints=("fruitcast.app.recording:EntriesListed",),
)
def show(
    session: Session,
    stack: Annotated[
        str | None, typer.Option(help="One stack or lot only.", autocompletion=stack_names)
    ] = None,
    last: Annotated[int, typer.Option(min=0, help="How many of the last entries.")] = 20,
) -> None:
    """List what was written down, each with what names it for 'record undo'."""
    from fruitcast.app.recording import list_entries
    from fruitcast.cli.tables import diary_table

    listed = list_entries(*session.here, stack=stack, last=last)
    session.answer(listed, lambda: diary_table(listed))


@command(
    diary,
    "export",
    examples=(
        "fruitcast diary export diary.csv",
        "fruitcast diary export season.csv --without-names",
    ),
    prints=("fruitcast.app.diary_tables:DiaryFile",),
)
def export(
    session: Session,
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The CSV file to write; - is standard output.")
    ],
    without_names: Annotated[
        bool,
        typer.Option(
            "--without-names",
            help="One season for others: stacks numbered, no strains, outlets, sales or notes.",
        ),
    ] = False,
    year: Annotated[
        int | None,
        typer.Option(
            help="Which season goes out without names; else this one.", show_default=False
        ),
    ] = None,
) -> None:
    """Write the whole diary as CSV, to be kept or opened in a spreadsheet."""
    from fruitcast.app.diary_tables import DiaryFile, export_diary, export_season

    shown = str(file) == "-"
    if shown and session.json:
        raise typer.BadParameter("--json and the diary can't both go to standard output")
    if year is not None and not without_names:
        raise typer.BadParameter("--year belongs to --without-names: else all years go out")
    if without_names:
        target = None if shown else file
        text, entries, season = export_season(*session.here, year, target)
        said = f"{entries} entries of {season} written to {file}, without names. Look it through "
        said += "before you send it."
    else:
        out = export_diary(*session.here)
        text, entries = out.csv.decode("utf-8-sig"), len(out.rows)
        said = f"{entries} entries written to {file}."
        if not shown:
            out.write(file)
    if shown:
        session.write(text)
        return
    session.answer(DiaryFile(file=str(file), entries=entries), [said])


@command(
    diary,
    "import",
    examples=("fruitcast diary import diary.csv",),
    prints=("fruitcast.app.diary_tables:DiaryFile",),
)
def import_(
    session: Session,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A diary exported as CSV.")],
) -> None:
    """Add the entries of an exported diary, all or none."""
    from fruitcast.app.diary_tables import DiaryFile, import_diary

    added = import_diary(*session.here, file, session.clock)
    session.answer(
        DiaryFile(file=str(file), entries=added),
        [f"{added} entries added from {file}."],
    )


@command(
    diary,
    "restore",
    examples=("fruitcast diary restore",),
    prints=("fruitcast.app.diary_tables:DiaryRestored",),
)
def restore(
    session: Session,
    backup: Annotated[
        Path | None,
        typer.Argument(
            metavar="[FILE]", help="Which backup; else the newest whole one.", show_default=False
        ),
    ] = None,
    yes: Annotated[
        bool,
        typer.Option("--yes", "-y", help="Do it without a question, though the diary is whole."),
    ] = False,
) -> None:
    """Put a daily backup in the diary's place; the diary as it was is set aside."""
    from fruitcast.app.diary_tables import DiaryRestored, doubt_of_restoring, restore_diary
    from fruitcast.errors import InputError

    doubt = "" if yes else doubt_of_restoring(*session.here)
    if doubt:
        ask = asker(session, "Put a backup in its place?")
        if ask is None:
            raise InputError(f"{doubt} Nothing was changed. If it is, add --yes.")
        if not ask(doubt):
            raise InputError("Nothing was changed.")
    restored = restore_diary(*session.here, backup)
    words = [f"The diary is now that of {restored.backup.name}."]
    if restored.rescued:
        words.append(
            f"Of what was written down since, {restored.rescued} entries could still be read and "
            "were added."
        )
    if restored.set_aside:
        words.append(f"The former diary is kept as {restored.set_aside.name}.")
    session.answer(
        DiaryRestored(
            backup=str(restored.backup),
            set_aside=str(restored.set_aside) if restored.set_aside else None,
            rescued_entries=restored.rescued,
        ),
        [*words, "'fruitcast diary show' lists its last entries."],
    )


@command(
    diary,
    "sales",
    examples=("fruitcast diary sales",),
    prints=("fruitcast.app.diary_tables:SalesListed",),
)
def sales(
    session: Session,
    first: First = None,
    last: Last = None,
    outlet: Annotated[str | None, typer.Option(help="One outlet only.")] = None,
    output: Output = None,
) -> None:
    """List which pick of which stack went to which outlet on which day, and what it brought."""
    from fruitcast.app.diary_tables import SalesListed, outlet_takings, traceability
    from fruitcast.cli.tables import sales_table

    last = last or session.today
    first = first or date(last.year, 1, 1)
    table = traceability(*session.here, first, last, outlet)
    brought = outlet_takings(*session.here, first, last, outlet)
    if output is not None:
        table.write(output)
    file = str(output) if output else None
    session.answer(
        SalesListed(first=first, last=last, sales=table.rows, takings=brought, file=file),
        _written(table.rows, output)
        or (lambda: sales_table(table.rows, brought, table.yard.units)),
    )


@command(
    diary,
    "trace",
    examples=("fruitcast diary trace -o trace.html", "fruitcast diary trace -o trace.csv"),
    prints=("fruitcast.app.diary_tables:TraceListed",),
)
def trace(
    session: Session,
    first: First = None,
    last: Last = None,
    output: Annotated[
        Path | None, to_file("Write it: a page to print where the name ends in .html, else CSV.")
    ] = None,
) -> None:
    """List each pick: stack, tree, soak and its water, who picked, and to whom it went."""
    from rich.console import Group

    from fruitcast.app.diary_tables import TraceListed, trace_table, write_trace
    from fruitcast.cli.tables import trace_table as in_columns
    from fruitcast.diary.sales import NO_PROOF
    from fruitcast.outputs.listing import lines

    last = last or session.today
    first = first or date(last.year, 1, 1)
    table = trace_table(*session.here, first, last)
    if output is not None:
        write_trace(table, output, first, last)
    file = str(output) if output else None
    written = _written(table.rows, output)
    session.answer(
        TraceListed(first=first, last=last, picks=table.rows, note=NO_PROOF, file=file),
        [*written, NO_PROOF]
        if written
        else lambda: Group(in_columns(table.rows, table.yard.units), lines([NO_PROOF])),
    )


@command(
    diary,
    "year",
    examples=("fruitcast diary year",),
    prints=("fruitcast.app.diary_tables:YearListed",),
)
def year(
    session: Session,
    of: Annotated[
        int | None,
        typer.Argument(
            metavar="[YEAR]",
            help="Which year; else this one. South of the equator years begin on 1 July.",
            show_default=False,
        ),
    ] = None,
    output: Output = None,
) -> None:
    """Show what each stack, class, strain and tree bore in a year, a log, and how soon."""
    from fruitcast.app.diary_tables import YearListed, year_table
    from fruitcast.cli.tables import year_end_table

    table, wanted, losses = year_table(*session.here, of)
    if output is not None:
        table.write(output)
    file = str(output) if output else None
    session.answer(
        YearListed(year=wanted, rows=table.rows, losses=losses, file=file),
        _written(table.rows, output)
        or (lambda: year_end_table(table.rows, losses, table.yard.units)),
    )


def _written(rows: Sequence[object], output: Path | None) -> list[str]:
    """Return what is said when rows went into a file, nothing when they are to be shown."""
    return [f"{len(rows)} rows written to {output}."] if output else []
