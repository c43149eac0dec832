"""fruitcast inoculation."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command, parse_day
from fruitcast.cli.session import Session
from fruitcast.topics import SpawnForm, StrainClass, Tool

_PROGRAMME = "A programme for the outlets"
_BATCH = "One batch (with --batch)"


def _parse_start(text: str) -> date:
    """Return the first day of a year like 2028, or a day."""
    return parse_day(f"{text}-01-01" if len(text) == 4 and text.isdigit() else text)


@command(
    app,
    "inoculation",
    examples=(
        "fruitcast inoculation --chance 0.8",
        "fruitcast inoculation --batch --class wide-range --tree 'red oak' --logs 50",
    ),
    prints=(
        "fruitcast.inoculation.answers:ProgrammeAnswer",
        "fruitcast.inoculation.answers:BatchAnswer",
    ),
)
def inoculation(
    session: Session,
    for_: Annotated[
        list[str] | None,
        typer.Option(
            "--for",
            metavar="OUTLET=WEIGHT",
            help="Another target for an outlet of the yard, like 'Saturday market=6 kg', or a new "
            "one by its day, like 'Sat=6 kg', in the same season; 0 leaves one out.",
            rich_help_panel=_PROGRAMME,
        ),
    ] = None,
    from_: Annotated[
        date | None,
        typer.Option(
            "--from",
            parser=_parse_start,
            metavar="YEAR or DAY",
            show_default=False,
            help="Sales before it don't count.",
            rich_help_panel=_PROGRAMME,
        ),
    ] = None,
    years: Annotated[
        int | None,
        typer.Option(
            min=1,
            max=15,
            show_default="8",
            help="Years of inoculation.",
            rich_help_panel=_PROGRAMME,
        ),
    ] = None,
    chance: Annotated[
        float | None,
        typer.Option(
            min=0.05,
            max=0.99,
            show_default="the promise of yard.toml",
            help="Share of the sales to be met in full.",
            rich_help_panel=_PROGRAMME,
        ),
    ] = None,
    none: Annotated[
        bool,
        typer.Option("--none", help="What if nothing were inoculated?", rich_help_panel=_PROGRAMME),
    ] = False,
    batch: Annotated[
        bool, typer.Option("--batch", help="Look at one batch instead.", rich_help_panel=_BATCH)
    ] = False,
    class_: Annotated[
        StrainClass | None, typer.Option("--class", help="Strain class.", rich_help_panel=_BATCH)
    ] = None,
    tree: Annotated[
        str | None, typer.Option(help="Tree species, like 'red oak'.", rich_help_panel=_BATCH)
    ] = None,
    logs: Annotated[
        int | None, typer.Option(min=1, max=100_000, help="Logs.", rich_help_panel=_BATCH)
    ] = None,
    diameter: Annotated[
        str | None,
        typer.Option(
            metavar="SIZE",
            help="Over bark, like '5 in' or '13 cm'; else as usual in the yard.",
            rich_help_panel=_BATCH,
        ),
    ] = None,
    length: Annotated[
        str | None,
        typer.Option(
            metavar="SIZE",
            help="Like '40 in' or '1 m'; else as usual in the yard.",
            rich_help_panel=_BATCH,
        ),
    ] = None,
    spawn: Annotated[
        SpawnForm | None,
        typer.Option(help="Form of spawn; else the yard's usual one.", rich_help_panel=_BATCH),
    ] = None,
    along: Annotated[
        str | None,
        typer.Option(
            metavar="SIZE",
            show_default="6 in",
            help="From hole to hole along the row.",
            rich_help_panel=_BATCH,
        ),
    ] = None,
    between: Annotated[
        str | None,
        typer.Option(
            metavar="SIZE", show_default="3 in", help="From row to row.", rich_help_panel=_BATCH
        ),
    ] = None,
    end: Annotated[
        str | None,
        typer.Option(
            metavar="SIZE",
            show_default="2 in",
            help="From the log's end to the first hole.",
            rich_help_panel=_BATCH,
        ),
    ] = None,
    seal_ends: Annotated[
        bool, typer.Option("--seal-ends", help="Wax the cut ends too.", rich_help_panel=_BATCH)
    ] = False,
    on: Annotated[
        date | None,
        typer.Option(
            "--on",
            parser=parse_day,
            metavar="YYYY-MM-DD",
            show_default=False,
            help="Day of inoculation; else the next good one.",
            rich_help_panel=_BATCH,
        ),
    ] = None,
    strain: Annotated[
        str | None, typer.Option(help="Your own word for the strain.", rich_help_panel=_BATCH)
    ] = None,
    note: Annotated[
        str | None, typer.Option(help="A note for stacks.csv.", rich_help_panel=_BATCH)
    ] = None,
    drawing: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.svg",
            help="Draw the holes, to print and tape to the bench.",
            rich_help_panel=_BATCH,
        ),
    ] = None,
    accept: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Add the batch to stacks.csv under this name, and its dates to the calendar.",
            rich_help_panel=_BATCH,
        ),
    ] = None,
    tool: Annotated[Tool, typer.Option(help="What the holes are drilled with.")] = "drill",
    seed: Annotated[int, typer.Option(min=0, help="Seed of all random draws.")] = 1,
    offline: Offline = False,
) -> None:
    """Next spring's logs: how many of what, holes, spawn, wax, hours, and when they bear."""
    of_programme = {
        "--for": for_ or None,
        "--from": from_,
        "--years": years,
        "--chance": chance,
        "--none": none or None,
    }
    of_batch = {
        "--class": class_,
        "--tree": tree,
        "--logs": logs,
        "--diameter": diameter,
        "--length": length,
        "--spawn": spawn,
        "--along": along,
        "--between": between,
        "--end": end,
        "--seal-ends": seal_ends or None,
        "--on": on,
        "--strain": strain,
        "--note": note,
        "--drawing": drawing,
        "--accept": accept,
    }
    if not batch:
        _refuse(of_batch, "belongs to one batch: add --batch")
        from fruitcast.app.inoculation import DEFAULT_YEARS, Wish, make_programme
        from fruitcast.outputs.inoculation_words import programme_table

        wish = Wish(
            targets=tuple(for_ or ()),
            wanted_from=from_,
            years=years or DEFAULT_YEARS,
            chance=chance,
            tool=tool,
            inoculate=not none,
        )
        with session.progress() as progress:
            made = make_programme(
                session.yard,
                session.today,
                wish,
                seed=seed,
                fetching=session.fetching(offline),
                progress=progress,
            )
        session.answer(
            made.document,
            lambda: programme_table(made.document, made.known.yard),
            made.document.warnings,
        )
        return
    _refuse(of_programme, "belongs to a programme: leave --batch or it out")
    if class_ is None or tree is None or logs is None:
        missing = [name for name in ("--class", "--tree", "--logs") if of_batch[name] is None]
        raise typer.BadParameter(f"--batch needs {', '.join(missing)} too")
    from fruitcast.app.inoculation import BatchWish, look_at_batch
    from fruitcast.outputs.inoculation_words import batch_table

    batch_wish = BatchWish(
        strain_class=class_,
        tree=tree,
        logs=logs,
        diameter=diameter,
        length=length,
        spawn=spawn,
        strain=strain or "",
        tool=tool,
        inoculated=on,
        along=along,
        between=between,
        end=end,
        seal_ends=seal_ends,
        note=note or "",
    )
    with session.progress() as progress:
        found = look_at_batch(
            session.yard,
            session.today,
            batch_wish,
            drawing=drawing,
            accept=accept,
            seed=seed,
            fetching=session.fetching(offline),
            progress=progress,
        )
    for message in found.messages:
        session.say(message)
    session.answer(
        found.document,
        lambda: batch_table(found.document, found.known.yard),
        found.document.warnings,
    )


def _refuse(options: Mapping[str, object], reason: str) -> None:
    """Stop at an option that belongs to the other use of the command."""
    given = [name for name, value in options.items() if value is not None]
    if given:
        raise typer.BadParameter(f"{given[0]} {reason}")
