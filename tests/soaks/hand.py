"""A scheduling problem small enough to be worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from fruitcast.soaks.problem import (
    Crops,
    FirstArcs,
    OutletDay,
    Prices,
    Problem,
    StackProblem,
    TypeArcs,
)

PRICES = Prices(expired=0.02, soak=0.01, change=0.1, certainty=0.0)
"""Prices that are easily worked with. [kg]"""


def table(*entries: tuple[int, int, int, float]) -> Crops:
    """Return crops from (row, member, day, kg) entries."""
    row, member, day, kg = zip(*entries, strict=True) if entries else ((), (), (), ())
    return Crops(
        row=np.array(row, dtype=np.int64),
        member=np.array(member, dtype=np.int64),
        day=np.array(day, dtype=np.int64),
        kg=np.array(kg, dtype=np.float64),
    )


def hand_problem() -> Problem:
    """Return a problem of two stacks and two members that can be worked out by hand.

    Soak days are 1, 8, 64 and 71; interior arcs join 1 to 64, 1 to 71 and 8 to 71. Stack A
    has 20 logs and was last soaked on day -62; B has 30 and on day -55, so it is rested on
    day 8 only. The tank holds 40. Days 8 and 64 hold logs for two nights, 1 and 71 for one.
    """
    soak_days = np.array([1, 8, 64, 71], dtype=np.int64)
    shiitake = TypeArcs(
        name="wide-range",
        start=np.array([0, 0, 1], dtype=np.int64),
        stop=np.array([2, 3, 3], dtype=np.int64),
        crops=table(
            (0, 0, 72, 0.10),
            (0, 1, 74, 0.06),
            (1, 0, 79, 0.12),
            (1, 1, 81, 0.07),
            (2, 0, 79, 0.10),
            (2, 1, 40, 0.05),
            (2, 1, 81, 0.02),
        ),
        end_crops=table((1, 0, 50, 0.04), (3, 1, 110, 0.05)),
        nights=np.array([1, 2, 2, 1], dtype=np.int64),
        standing=np.array([10, 11, 11, 10], dtype=np.int64),
        hours=np.array([24.0, 48.0, 48.0, 24.0]),
        allowed=np.ones(4, dtype=np.bool_),
    )
    stack_a = StackProblem(
        name="A",
        logs=20,
        type_index=0,
        effective_logs=20.0,
        first=FirstArcs(
            soak=np.array([0, 1, 2, 3], dtype=np.int64),
            crops=table(
                (0, 0, 9, 2.0),
                (0, 1, 11, 1.0),
                (1, 0, 17, 2.2),
                (1, 1, 19, 1.2),
                (2, 0, 72, 2.4),
                (3, 0, 79, 2.4),
                (3, 1, 30, 0.6),
            ),
            none_crops=table((0, 1, 30, 0.6)),
        ),
        end_flush=2.0,
        rested_from=-62,
        published=1,
        was_published=True,
    )
    stack_b = replace(
        stack_a,
        name="B",
        logs=30,
        effective_logs=30.0,
        first=FirstArcs(
            soak=np.array([1, 2, 3], dtype=np.int64),
            crops=table((0, 0, 17, 3.0), (0, 1, 19, 2.0), (1, 0, 72, 3.0), (2, 0, 79, 3.0)),
            none_crops=table(),
        ),
        end_flush=3.0,
        rested_from=-55,
        published=None,
    )
    return Problem(
        today=date(2027, 5, 3),
        weeks=12,
        tail_days=35,
        years=(2001, 2002),
        seed=1,
        soak_days=soak_days,
        next_soak_day=85,
        rest_days=63,
        tank_logs=40,
        hours_a_day=None,
        soak_hours_per_log=0.05,
        pull_hours_per_log=0.04,
        cold_days=7,
        stock=((-1, 0.5),),
        outlets=(
            OutletDay("Stall", 5, 1.0, 1.0),
            OutletDay("Stall", 12, 1.0, 1.0),
            OutletDay("Stall", 19, 1.0, 1.0),
            OutletDay("Restaurant", 26, 1.5, 2.0),
            OutletDay("Stall", 26, 1.0, 1.0),
        ),
        types=(shiitake,),
        stacks=(stack_a, stack_b),
        prices=PRICES,
        promise=0.8,
    )
