"""fruitcast inoculation."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command, parse_day
from fruitcast.cli.session import Session
from fruitcast.topics import SpawnForm, StrainClass, Tool

_of_programme = partial(typer.Option, rich_help_panel="A programme for the outlets")
_of_batch = partial(typer.Option, rich_help_panel="One batch (with --batch)")


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
        _of_programme(
            "--for",
            metavar="OUTLET=WEIGHT",
            help="Another target for an outlet of the yard, like 'Saturday market=6 kg', or a new "
            "one by its day, like 'Sat=6 kg', in the same season; 0 leaves one out.",
        ),
    ] = None,
    from_: Annotated[
        date | None,
        _of_programme(
            "--from",
            parser=_parse_start,
            metavar="YEAR or DAY",
            show_default=False,
            help="Sales before it don't count.",
        ),
    ] = None,
    years: Annotated[
        int | None,
        _of_programme(min=1, max=15, show_default="8", help="Years of inoculation."),
    ] = None,
    chance: Annotated[
        float | None,
        _of_programme(
            min=0.05,
            max=0.99,
            show_default="the promise of yard.toml",
            help="Share of the sales to be met in full.",
        ),
    ] = None,
    none: Annotated[
        bool,
        _of_programme("--none", help="What if nothing were inoculated?"),
    ] = False,
    batch: Annotated[bool, _of_batch("--batch", help="Look at one batch instead.")] = False,
    class_: Annotated[StrainClass | None, _of_batch("--class", help="Strain class.")] = None,
    tree: Annotated[str | None, _of_batch(help="Tree species, like 'red oak'.")] = None,
    logs: Annotated[int | None, _of_batch(min=1, max=100_000, help="Logs.")] = None,
    diameter: Annotated[
        str | None,
        _of_batch(
            metavar="SIZE", help="Over bark, like '5 in' or '13 cm'; else as usual in the yard."
        ),
    ] = None,
    length: Annotated[
        str | None,
        _of_batch(metavar="SIZE", help="Like '40 in' or '1 m'; else as usual in the yard."),
    ] = None,
    spawn: Annotated[
        SpawnForm | None,
        _of_batch(help="Form of spawn; else the yard's usual one."),
    ] = None,
    along: Annotated[
        str | None,
        _of_batch(metavar="SIZE", show_default="6 in", help="From hole to hole along the row."),
    ] = None,
    between: Annotated[
        str | None,
        _of_batch(metavar="SIZE", show_default="3 in", help="From row to row."),
    ] = None,
    end: Annotated[
        str | None,
        _of_batch(
            metavar="SIZE", show_default="2 in", help="From the log's end to the first hole."
        ),
    ] = None,
    seal_ends: Annotated[bool, _of_batch("--seal-ends", help="Wax the cut ends too.")] = False,
    on: Annotated[
        date | None,
        _of_batch(
            "--on",
            parser=parse_day,
            metavar="YYYY-MM-DD",
            show_default=False,
            help="Day of inoculation; else the next good one.",
        ),
    ] = None,
    strain: Annotated[str | None, _of_batch(help="Your own word for the strain.")] = None,
    note: Annotated[str | None, _of_batch(help="A note for stacks.csv.")] = None,
    drawing: Annotated[
        Path | None,
        _of_batch(metavar="FILE.svg", help="Draw the holes, to print and tape to the bench."),
    ] = None,
    accept: Annotated[
        str | None,
        _of_batch(
            metavar="NAME",
            help="Add the batch to stacks.csv under this name, and its dates to the calendar.",
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
        with session.reckoning(offline) as how:
            made = make_programme(*session.here, wish, seed=seed, **how)
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
    with session.reckoning(offline) as how:
        found = look_at_batch(
            *session.here, batch_wish, drawing=drawing, accept=accept, seed=seed, **how
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
