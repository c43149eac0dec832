"""What to do next, for someone who types the program's name alone."""

from __future__ import annotations

import csv
import json
import shlex
import tomllib
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fruitcast.progress import Step

SETTINGS_FILE, STACKS_FILE = "yard.toml", "stacks.csv"
PLAN_FILE = Path("out") / "plan.json"
_EXAMPLE = "Example "


@dataclass(frozen=True)
class Welcome:
    """How a folder stands and what can be done next, the most needed first."""

    state: tuple[str, ...]  # sentences on what is there and what is missing
    steps: tuple[Step, ...]


def welcome(folder: Path, today: date) -> Welcome:
    """Return how things stand in a folder, and the answer of its last plan in short.

    What it can't read it passes over: 'fruitcast check' is there to find faults.
    """
    folder = folder.expanduser()
    if not (folder / SETTINGS_FILE).is_file():
        return Welcome(("There is no yard in this folder.",), next_steps(folder, today))
    state = [f"Yard: {_settings(folder).get('name') or folder.absolute().name}."]
    steps = list(next_steps(folder, today))
    if any(name.startswith(_EXAMPLE) for name in stack_names(folder)):
        state.append(f"{STACKS_FILE} still holds the example rows: put your own in their place.")
    file = _settings(folder).get("weather", {}).get("file")
    planned_on = _planned_on(folder)
    if isinstance(file, str) and not (folder / file).is_file():
        state.append(f"It has no weather yet: {file} is not there.")
        steps.insert(0, Step("fruitcast weather import FILE", "take in a daily table"))
        planned_on = None
    elif planned_on != today:
        old = f"Its plan is that of {planned_on}." if planned_on else "It has no plan yet."
        state.append(old)
        steps = [_PLAN, *(step for step in steps if step != _PLAN)]
    if planned_on is not None:
        state += _as_it_stands(folder, today)
    return Welcome(tuple(state), tuple(steps))


def _as_it_stands(folder: Path, today: date) -> tuple[str, ...]:
    """Return the answer of the last plan in a few sentences; none where something can't be read."""
    from fruitcast.app.publication import read_last_plan
    from fruitcast.diary.state_from_diary import read_yard_state
    from fruitcast.errors import FruitcastError
    from fruitcast.outputs.reminders import reminders
    from fruitcast.outputs.week import glance
    from fruitcast.outputs.week import week_ahead as week
    from fruitcast.yard.reading import read_yard

    try:
        yard = read_yard(folder, today)
        plan, state = read_last_plan(yard, today), read_yard_state(yard, today)
    except FruitcastError:
        return ()
    if plan is None:
        return ()
    seen = glance(plan, week(reminders(plan, yard, state), today), yard.units, today)
    by_itself = (f"May come by itself: {seen.natural[0]}.",) if seen.natural else ()
    return (seen.short, *by_itself)


def next_steps(folder: Path, today: date, *, here: bool = True) -> tuple[Step, ...]:
    """Return what can be done with a planned yard, or where there is none.

    `here` says whether the program looks in the folder by itself; else the commands name folder and
    day.
    """
    if not (folder.expanduser() / SETTINGS_FILE).is_file():
        from fruitcast.app.beginning import can_begin

        page = Step("fruitcast serve", "begin a yard in this folder, in the browser")
        return (
            *((page,) if can_begin(folder.expanduser().absolute()) else ()),
            Step("fruitcast demo", "see the whole job done on an invented yard"),
            Step("fruitcast new DIR", "start a yard of your own in the folder DIR"),
            Step("fruitcast --yard DIR plan", "plan the yard in the folder DIR"),
            Step("fruitcast --help", "list all commands"),
        )
    weight = "1.2 kg" if _settings(folder).get("units") == "metric" else "2 lb 6 oz"
    pick = f"fruitcast record pick {(stack_names(folder) or ['A'])[0]} {weight}"
    steps = (
        Step("fruitcast week", "what to do in the next 7 days"),
        Step("fruitcast stacks", "each stack as it stands today"),
        Step(pick, "write down what was done or seen"),
        _PLAN,
        Step("fruitcast check", "look for slips in the yard's files and weather"),
        Step("fruitcast --help", "list all commands"),
    )
    if here:
        return steps
    yard = f"fruitcast --yard {shlex.quote(str(folder))} --today {today}"
    return tuple(Step(step.command.replace("fruitcast", yard, 1), step.does) for step in steps)


_PLAN = Step("fruitcast plan", "plan with all that is known now, and publish the calendar")


def stack_names(folder: Path) -> list[str]:
    """Return the stacks that stacks.csv names, in its order; none where it can't be read."""
    try:
        with (folder.expanduser() / STACKS_FILE).open(encoding="utf-8-sig", newline="") as file:
            rows = [row for row in csv.reader(file) if row]
    except (OSError, ValueError, csv.Error):
        return []
    return [row[0].strip() for row in rows[1:] if row[0].strip()]


def _settings(folder: Path) -> dict[str, Any]:
    try:
        return tomllib.loads((folder.expanduser() / SETTINGS_FILE).read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return {}


def _planned_on(folder: Path) -> date | None:
    try:
        plan = json.loads((folder / PLAN_FILE).read_text(encoding="utf-8"))
        return date.fromisoformat(plan["today"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
