"""Planning again in the background: publish a good plan soon, then the thorough one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np

from fruitcast.app.known import DEFAULT_WEEKS, read_known
from fruitcast.app.planning import make_plan, publish_plan
from fruitcast.app.publication import fingerprint
from fruitcast.app.serving import BACKGROUND
from fruitcast.app.standing import stacks_today
from fruitcast.diary.book import Diary
from fruitcast.diary.plan import OtherSoak, Plan, plan_changes
from fruitcast.diary.standing import Background, KnownWeather
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.progress import Progress
from fruitcast.soaks.search import QUICK
from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.yard.reading import read_yard


@dataclass(frozen=True)
class Replanned:
    """A plan just published.

    Attributes
    ----------
    changes : tuple of OtherSoak
        How it differs from the plan before, see `plan_changes`.
    inputs : str
        Fingerprint of the yard that it was made from.
    """

    changes: tuple[OtherSoak, ...]
    inputs: str


def replan(
    folder: Path,
    today: date,
    before: Plan | None,
    *,
    thorough: bool,
    now: datetime | None = None,
    offline: bool = False,
    progress: Progress | None = None,
) -> Replanned:
    """Plan a yard and publish the plan.

    Parameters
    ----------
    before : Plan or None
        The plan with which the new one is compared.
    thorough : bool
        Whether to search as long as `plan_yard` does, which gives the same plan as that; else
        a good one soon.

    The others as in `plan_yard`.
    """
    inputs = fingerprint(read_yard(folder))
    known = read_known(
        folder,
        today,
        days_ahead(DEFAULT_WEEKS, tail_days=default_numbers().schedule.tail_days),
        now=now,
        offline=offline,
    )
    planned = make_plan(known, params=None if thorough else QUICK, progress=progress)
    publish_plan(planned, inputs)
    changes = plan_changes(before, planned.document, today) if before else ()
    return Replanned(changes, inputs)


def is_outdated(folder: Path, done: Replanned) -> bool:
    """Return whether the yard's files or its diary have changed since a plan was made."""
    return fingerprint(read_yard(folder)) != done.inputs


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
    known = read_known(
        folder,
        today,
        days_ahead(DEFAULT_WEEKS, tail_days=default_numbers().schedule.tail_days),
        offline=True,
    )
    weather = known.weather
    background = Background(
        inputs=inputs,
        plan_made_at=plan_made_at and plan_made_at.replace(microsecond=0),
        stacks=standing.stacks,
        years=known.years,
        weather=KnownWeather(
            origin=weather.origin,
            attribution=weather.attribution,
            observed_to=_last_observed(weather),
            forecast_to=weather.end if weather.end >= today else None,
        ),
    )
    with Diary(known.yard.diary_file) as diary:
        diary.save_document(BACKGROUND, today, background.json_text())


def _last_observed(weather: DailyWeather) -> date:
    """Return the last day whose temperatures and rain were observed: later ones are filled in."""
    seen = np.ones(weather.days, dtype=bool)
    for name in ("tmin", "tmax", "rain"):
        seen &= weather.sources[name] == Source.OBSERVED
    return weather.start + timedelta(days=int(np.flatnonzero(seen).max(initial=0)))
