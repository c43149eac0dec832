"""What each published plan foretold, kept to be held against what the diary tells later."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import astuple, dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from fruitcast.diary.kept_plan import PLAN, unpacked

if TYPE_CHECKING:
    from fruitcast.diary.plan import NaturalFlush, PlannedSoak, Sale, SoakUnderWay

FIRST_PICK, FLUSH_WEIGHT = "first pick", "flush weight"
NATURAL_FLUSH = "natural flush"
AVAILABLE, PROMISE = "available at sale", "promise"

LEADS = (7, 14, 28)
"""What is foretold of one outcome is told again only nearer to it than one of these. [day]"""

LEAST_APART = 7
"""And not sooner than this: the day an outcome is expected on moves to and fro. [day]

All changes of all plans would be a hundred times as much, and say no more about how good they are.
"""


LEAST_OUTCOMES = 5
"""Fewer say nothing: of four right ranges two or more are missed in 18 of 100 cases by luck."""


@dataclass(frozen=True)
class Foretold:
    """What a plan says of one outcome; what it doesn't say is None.

    Attributes
    ----------
    about : str
        'first pick' and 'flush weight' of a soak, 'natural flush' of a week, 'available at sale'
        and 'promise' of a day.
    whose : str
        Stack, lot or outlet.
    day : str
        The soak's first day, the week's Monday, the day of the sale; in ISO. With `about` and
        `whose` the key of the outcome.
    p10, p50, p90, mean : float or None
        Quantiles and mean; those of a flush's weight where it comes at all. [days from `day` for
        a first pick, else kg]
    least : float or None
        What is reached or passed with the chance beside it. [kg]
    chance : float or None
        That chance; without `least` that it happens at all. [0..1]
    """

    about: str
    whose: str
    day: str
    p10: float | None = None
    p50: float | None = None
    p90: float | None = None
    mean: float | None = None
    least: float | None = None
    chance: float | None = None


def foretold_in(text: str) -> Iterator[tuple[date, Foretold]]:
    """Return what a plan foretells and the day on which it should show.

    Parameters
    ----------
    text : str
        The plan as it is kept. What can't be read of it is passed over.
    """
    # Each entry is read by itself, so that an old or damaged one spoils no other.
    from pydantic import ValidationError

    from fruitcast.diary.plan import NaturalFlush, PlannedSoak, Sale, SoakUnderWay

    try:
        plan = json.loads(text)
    except (ValueError, RecursionError):
        return
    if not isinstance(plan, dict):
        return
    promise = plan.get("promise")
    for key, kind in (
        ("soaks", PlannedSoak),
        ("under_way", SoakUnderWay),
        ("natural", NaturalFlush),
        ("outlets", Sale),
    ):
        entries = plan.get(key)
        for entry in entries if isinstance(entries, list) else ():
            try:
                read = kind.model_validate(entry, strict=False)
            except ValidationError:
                continue
            if isinstance(read, NaturalFlush):
                yield _natural(read)
            elif not isinstance(read, Sale):
                yield from _flush(read)
            elif isinstance(promise, int | float):
                yield from _sale(read, promise)


def _flush(soak: PlannedSoak | SoakUnderWay) -> Iterator[tuple[date, Foretold]]:
    key = (soak.stack, soak.soak_on.isoformat())
    picks = (soak.pick.p10, soak.pick.p50, soak.pick.p90)
    yield picks[1], Foretold(FIRST_PICK, *key, *((pick - soak.soak_on).days for pick in picks))
    low, high = (None if kg is None else _rounded(kg) for kg in (soak.kg_p10, soak.kg_p90))
    mean = _rounded(soak.expected_kg)
    yield picks[1], Foretold(FLUSH_WEIGHT, *key, p10=low, p90=high, mean=mean)


def _natural(flush: NaturalFlush) -> tuple[date, Foretold]:
    key = (flush.stack, flush.week.isoformat())
    mean, chance = _rounded(flush.expected_kg), _rounded(flush.chance)
    return flush.week, Foretold(NATURAL_FLUSH, *key, mean=mean, chance=chance)


def _sale(sale: Sale, promise: float) -> Iterator[tuple[date, Foretold]]:
    key = (sale.outlet, sale.on.isoformat())
    low, high = _rounded(sale.available_p10_kg), _rounded(sale.available_p90_kg)
    wanted, chance = _rounded(sale.target_kg), _rounded(sale.chance)
    yield sale.on, Foretold(AVAILABLE, *key, p10=low, p90=high, least=wanted, chance=chance)
    promised = _rounded(sale.promise_kg)
    yield sale.on, Foretold(PROMISE, *key, least=promised, chance=_rounded(promise))


def _rounded(value: float) -> float:
    """Return a weight to 10 g, a chance to a hundredth: what is less is no news."""
    return round(float(value), 2)


def foretell(connection: sqlite3.Connection, made_on: date, text: str) -> None:
    """Write down what a plan foretells, as far as it is new.

    Parameters
    ----------
    made_on : date
        Day of the plan.
    text : str
        The plan.
    """
    oldest = (made_on - timedelta(days=366)).isoformat()
    last = {
        row[:3]: (date.fromisoformat(row[9]), Foretold(*row[:9]))
        for row in connection.execute(_SELECT, (oldest,))
    }
    rows = []
    for due, told in foretold_in(text):
        lead = _lead(due, made_on)
        if lead is None:
            continue
        before = last.get((told.about, told.whose, told.day))
        if before is not None:
            earlier = _lead(due, before[0])
            nearer = lead < (len(LEADS) - 1 if earlier is None else earlier)
            apart = (made_on - before[0]).days >= LEAST_APART
            if before[1] == told or not (nearer and apart):
                continue
        rows.append((made_on.isoformat(), *astuple(told)))
    connection.executemany(_INSERT, rows)


def _lead(due: date, made_on: date) -> int | None:
    """Return how near an outcome is, as a step of `LEADS`; None when it is past or far off."""
    days = (due - made_on).days
    return next((step for step, most in enumerate(LEADS) if 0 <= days <= most), None)


# The table of schema version 2, which is also filled when an older diary is brought to it.
_FIELDS = "about, whose, day, p10, p50, p90, mean, least, chance"
_SELECT = f"SELECT {_FIELDS}, made_on FROM foretold WHERE day >= ? ORDER BY id"
_INSERT = f"INSERT INTO foretold (made_on, {_FIELDS}) VALUES (?{', ?' * 9})"


def all_foretold(connection: sqlite3.Connection) -> tuple[tuple[date, Foretold], ...]:
    """Return all that was foretold and the day of its plan, the oldest first."""
    found = connection.execute(_SELECT, ("",))
    return tuple((date.fromisoformat(row[9]), Foretold(*row[:9])) for row in found)


def foretell_from_kept_plans(connection: sqlite3.Connection) -> None:
    """Write down what the plans foretold that an older diary keeps, the oldest first."""
    kept = connection.execute(
        "SELECT made_on, text FROM documents WHERE kind = ? ORDER BY made_on, id", (PLAN,)
    )
    for made_on, text in kept.fetchall():
        foretell(connection, date.fromisoformat(made_on), unpacked(text))
