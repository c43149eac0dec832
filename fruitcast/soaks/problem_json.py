"""A scheduling problem, and a plan for it, as one JSON text that reads back exactly.

The text holds all that is needed to recompute objective and bound without this program:
soak days, arcs and their crops for every member, targets, limits and prices, and the
chosen arcs. Key names are the attribute names of `fruitcast.soaks.problem`; tables of
arcs and crops are written column by column.
"""

from __future__ import annotations

import json

from fruitcast.soaks.problem import (
    Crops,
    Plan,
    Problem,
    StackProblem,
    TypeArcs,
)

Entry = dict[str, object]
"""A part of the document, before each key is read as what it should be."""

FORMAT = "fruitcast problem 1"


def dump_problem(problem: Problem, plan: Plan | None = None) -> str:
    """Return the problem as JSON, with the chosen arcs when a plan is given.

    Parameters
    ----------
    problem : Problem
        What to write.
    plan : Plan, optional
        One path for each stack.

    Returns
    -------
    str
        One JSON document. Numbers are written in full, so that `load_problem` returns an
        equal problem to the last bit.
    """
    document: Entry = {
        "format": FORMAT,
        "today": problem.today.isoformat(),
        "weeks": problem.weeks,
        "tail_days": problem.tail_days,
        "years": list(problem.years),
        "seed": problem.seed,
        "soak_days": problem.soak_days.tolist(),
        "next_soak_day": problem.next_soak_day,
        "rest_days": problem.rest_days,
        "tank_logs": problem.tank_logs,
        "hours_a_day": problem.hours_a_day,
        "places": problem.places,
        "soak_hours_per_log": problem.soak_hours_per_log,
        "pull_hours_per_log": problem.pull_hours_per_log,
        "cold_days": problem.cold_days,
        "promise": problem.promise,
        "prices": {
            "expired": problem.prices.expired,
            "soak": problem.prices.soak,
            "change": problem.prices.change,
            "certainty": problem.prices.certainty,
        },
        "stock": [list(batch) for batch in problem.stock],
        "outlets": [
            {"outlet": o.outlet, "day": o.day, "target": o.target, "weight": o.weight}
            for o in problem.outlets
        ],
        "types": [_type_columns(kind) for kind in problem.types],
        "stacks": [_stack_columns(stack) for stack in problem.stacks],
    }
    if plan is not None:
        document["plan"] = [list(path) for path in plan]
        document["chosen"] = [
            {"stack": stack.name, "soak_days": [int(problem.soak_days[soak]) for soak in path]}
            for stack, path in zip(problem.stacks, plan, strict=True)
        ]
    return json.dumps(document, separators=(",", ":"), allow_nan=False)


def _crop_columns(crops: Crops) -> dict[str, list]:
    return {
        "row": crops.row.tolist(),
        "member": crops.member.tolist(),
        "day": crops.day.tolist(),
        "kg": crops.kg.tolist(),
    }


def _type_columns(kind: TypeArcs) -> Entry:
    return {
        "name": kind.name,
        "start": kind.start.tolist(),
        "stop": kind.stop.tolist(),
        "crops": _crop_columns(kind.crops),
        "end_crops": _crop_columns(kind.end_crops),
        "nights": kind.nights.tolist(),
        "standing": kind.standing.tolist(),
        "hours": kind.hours.tolist(),
        "allowed": kind.allowed.tolist(),
    }


def _stack_columns(stack: StackProblem) -> Entry:
    return {
        "name": stack.name,
        "logs": stack.logs,
        "type_index": stack.type_index,
        "scale": stack.scale,
        "first": {
            "soak": stack.first.soak.tolist(),
            "crops": _crop_columns(stack.first.crops),
            "none_crops": _crop_columns(stack.first.none_crops),
        },
        "end_flush": stack.end_flush,
        "rested_from": stack.rested_from,
        "published": stack.published,
        "was_published": stack.was_published,
        "fixed_nights": stack.fixed_nights,
        "fixed_standing": stack.fixed_standing,
        "handling": stack.handling,
    }
