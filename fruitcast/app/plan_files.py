"""The files of a published plan: plan.csv, plan.json and calendar.ics."""

from __future__ import annotations

from pathlib import Path

from fruitcast.diary.plan import Plan
from fruitcast.diary.tables import write_rows
from fruitcast.units import KG_PER_LB
from fruitcast.words import clean_line

PLAN_COLUMNS: dict[str, str] = {
    "stack": "stack or lot",
    "logs": "logs to soak",
    "soak_on": "day the logs go into the tank",
    "hours": "hours in water",
    "pull_on": "day they come out, at the yard's soak time",
    "pick_p10": "first pick: one weather year in ten is earlier",
    "pick_p50": "first pick: half of the weather years are earlier",
    "pick_p90": "first pick: one weather year in ten is later",
    "expected_kg": "forced crop before losses, mean over the weather years, in kg",
    "expected_lb": "the same in pounds",
    "reasons": "why, separated by semicolons",
}
"""The columns of plan.csv, one row for each soak in order of day, and what they hold."""


def plan_csv(plan: Plan) -> bytes:
    """Return the soaks of a plan as CSV (RFC 4180, UTF-8) with the columns `PLAN_COLUMNS`."""
    rows = [
        (
            clean_line(soak.stack),
            soak.logs,
            soak.soak_on,
            round(soak.hours, 2),
            soak.pull_on,
            soak.pick.p10,
            soak.pick.p50,
            soak.pick.p90,
            round(soak.expected_kg, 3),
            round(soak.expected_kg / KG_PER_LB, 3),
            "; ".join(clean_line(reason) for reason in soak.reasons),
        )
        for soak in sorted(plan.soaks, key=lambda soak: (soak.soak_on, soak.stack))
    ]
    return write_rows(tuple(PLAN_COLUMNS), rows).encode()


def plan_json(plan: Plan) -> bytes:
    """Return a plan as a JSON text, numbers as they are."""
    return (plan.json_text(indent=1) + "\n").encode()


def plan_files(folder: Path, plan: Plan, calendar: bytes) -> dict[Path, bytes]:
    """Return what belongs into plan.csv, plan.json and calendar.ics of a folder.

    Parameters
    ----------
    folder : Path
        The yard's folder for output.
    plan : Plan
        The plan.
    calendar : bytes
        The calendar that belongs to it.
    """
    return {
        folder / "plan.csv": plan_csv(plan),
        folder / "plan.json": plan_json(plan),
        folder / "calendar.ics": calendar,
    }
