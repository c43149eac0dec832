"""Lots for stacks that bear too much at once: shown, and taken into the diary."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path

from fruitcast.app.choosing import build
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard, horizon_days, read_known
from fruitcast.app.planning import proposal_for
from fruitcast.diary.book import Diary
from fruitcast.diary.events import LOTS, Event
from fruitcast.outputs.lots_words import Lot, StackInLots, YardLots
from fruitcast.progress import Progress
from fruitcast.soaks.problem import Problem
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard.model import SEPARATOR


def yard_lots(
    folder: Path,
    today: date,
    *,
    accept: bool = False,
    fetching: Fetching = AS_USUAL,
    moment: datetime | None = None,
    progress: Progress | None = None,
) -> YardLots:
    """Return the lots that stand, and those that would suit the targets.

    Parameters
    ----------
    folder : Path
        The yard's folder.
    today : date
        The day.
    accept : bool
        Whether to write those proposed into the diary; then they are among those that stand.
    fetching : Fetching
        How station weather is had.
    moment : datetime or None
        The present instant with its time zone; wanted to accept.
    progress : callable, optional
        Told in words what is being done.
    """
    if progress:
        progress("looking ahead")
    days = horizon_days(DEFAULT_WEEKS)
    known = read_known(folder, today, days, fetching=fetching)
    problem = build(known).problem
    found = proposal_for(known, problem)
    proposed = () if found is None else found.stacks
    if accept and proposed and moment is not None:
        entries = [Event(LOTS, today, each.stack, into=str(len(each.parts()))) for each in proposed]
        with Diary(known.yard.diary_file) as diary:
            diary.add(entries, moment)
    return YardLots(
        today=today,
        units=known.yard.units,
        by_settings=known.yard.soaking.lot_logs is not None,
        accepted=accept and bool(proposed),
        week_target_kg=None if found is None else found.week_target,
        standing=tuple(_standing(known, problem)),
        proposed=tuple(
            StackInLots(
                stack=each.stack,
                logs=each.logs,
                flush_kg=each.flush,
                lots=tuple(
                    Lot(name=name, logs=logs, flush_kg=each.flush * logs / each.logs)
                    for name, logs in each.parts()
                ),
            )
            for each in proposed
        ),
    )


def _standing(known: KnownYard, problem: Problem) -> Iterator[StackInLots]:
    stacks = {stack.name: stack for stack in problem.stacks if stack.logs}
    rows: dict[str, list[Lot]] = {}
    for name, stack in stacks.items():
        base, parted, _ = name.partition(SEPARATOR)
        if parted:
            lot = Lot(name=name, logs=stack.logs, flush_kg=stack.end_flush)
            rows.setdefault(base, []).append(lot)
    for base, lots in rows.items():
        yield StackInLots(
            stack=base,
            logs=sum(lot.logs for lot in lots),
            flush_kg=sum(lot.flush_kg for lot in lots),
            lots=tuple(lots),
        )
