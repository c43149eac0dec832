"""How well what the plans foretold came true on this yard."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from fruitcast.app.changed_model import numbers_of
from fruitcast.app.publication import last_plan
from fruitcast.diary.book import Diary
from fruitcast.diary.plan import Plan
from fruitcast.forecast.outcome_scores import Foretelling, scored
from fruitcast.forecast.outcomes import outcomes
from fruitcast.units import Units
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard


def how_well_foretold(folder: Path, today: date) -> tuple[Foretelling, Units]:
    """Return how well what was foretold came true up to a day, and the yard's units.

    Raises InputError if the yard or its diary cannot be read.
    """
    yard = read_yard(folder, today)
    return foretelling(yard, today, last_plan(yard, today)), yard.units


def foretelling(yard: Yard, today: date, plan: Plan | None) -> Foretelling:
    """Return the same of a yard that was read, beside what a plan has learned of its yields."""
    with Diary(yard.diary_file) as diary:
        told, events = diary.foretold(), diary.events()
    told = tuple(row for row in told if row[0] <= today)
    return scored(outcomes(told, yard, events, today, numbers_of(yard)), today, plan)
