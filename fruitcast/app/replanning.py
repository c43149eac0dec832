"""Planning again in the background: publish a plan soon, then add what takes longer."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fruitcast.app.known import read_known
from fruitcast.app.planning import DEFAULT_WEEKS, Planned, plan_yard, publish_plan
from fruitcast.app.publication import fingerprint, last_plan
from fruitcast.app.serving import BACKGROUND, plan_changes
from fruitcast.app.standing import stacks_today
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.yard.diary import Diary
from fruitcast.yard.reading import read_yard

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Replanned:
    """A plan just published.

    Attributes
    ----------
    planned : Planned
        The plan with all that it was made from.
    changes : list of dict
        How it differs from the plan before, see `plan_changes`.
    inputs : str
        Fingerprint of the yard that it was made from.
    """

    planned: Planned
    changes: list[dict[str, Any]]
    inputs: str

    @property
    def outdated(self) -> bool:
        """Whether the yard's files or its diary have changed since."""
        return fingerprint(read_yard(self.planned.known.yard.folder)) != self.inputs


def replan(
    folder: Path,
    today: date,
    *,
    now: datetime | None = None,
    offline: bool = False,
    progress: Progress | None = None,
) -> Replanned:
    """Plan a yard without the proof of how good the plan is, and publish the plan.

    Parameters as in `plan_yard`.
    """
    yard = read_yard(folder)
    inputs, before = fingerprint(yard), last_plan(yard, today)
    planned = plan_yard(
        folder, today, bound=False, now=now, offline=offline, publish=False, progress=progress
    )
    publish_plan(planned)
    changes = plan_changes(before, planned.document, today) if before else []
    return Replanned(planned, changes, inputs)


def add_background(folder: Path, today: date, plan_made_at: datetime | None) -> None:
    """Keep what a page shows beside the plan: each stack as it stands, and the weather known.

    Station weather is read from the stored copies, which the planning has just brought up to
    date.

    Parameters
    ----------
    folder : Path
        The yard's folder.
    today : date
        The day.
    plan_made_at : datetime or None
        When the plan was made, with its time zone; None when that is not known.
    """
    inputs = fingerprint(read_yard(folder))
    standing = stacks_today(folder, today, offline=True)
    known = read_known(folder, today, days_ahead(DEFAULT_WEEKS, default_numbers()), offline=True)
    weather = known.weather
    document = {
        "inputs": inputs,
        "plan_made_at": plan_made_at and plan_made_at.isoformat(timespec="seconds"),
        "stacks": standing.stacks,
        "years": list(known.years),
        "weather": {
            "origin": weather.origin,
            "attribution": weather.attribution,
            "from": weather.start.isoformat(),
            "to": weather.end.isoformat(),
        },
    }
    with Diary(known.yard.diary_file) as diary:
        diary.save_document(BACKGROUND, today, json.dumps(document, ensure_ascii=False))


def add_proof(done: Replanned) -> None:
    """Publish the plan again with the bound that proves how good it is."""
    from fruitcast.schedule.bound import lower_bound

    bound = lower_bound(done.planned.built.problem)
    if not done.outdated:
        done.planned.document["bound_kg"] = bound
        publish_plan(done.planned)
