"""The jobs of the next 7 days, out of today's plan."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from fruitcast.app.publication import is_fresh, last_plan
from fruitcast.diary.plan import Plan
from fruitcast.diary.state import YardState
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.errors import StationError, WeatherGapError
from fruitcast.outputs.reminders import reminders
from fruitcast.outputs.week import WEEK_DAYS, Week, WeekAhead, week_ahead
from fruitcast.progress import Progress, silent
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard


@dataclass(frozen=True)
class ThisWeek:
    """The next 7 days."""

    today: date  # the first of them
    yard: Yard
    state: YardState  # what the diary says
    plan: Plan  # the plan they follow
    published: bool  # whether that plan was published today; else it was only made to answer
    jobs: Week  # what to do on each day
    # Why no plan can be made, so that the one last published is followed; else empty.
    not_renewed: str = ""

    def document(self) -> WeekAhead:
        """Return the week as it is printed."""
        last = self.today + timedelta(days=WEEK_DAYS - 1)
        return WeekAhead(
            today=self.today,
            until=last,
            plan_published=self.published,
            plan_of=self.plan.today,
            not_renewed=self.not_renewed or None,
            jobs=self.jobs.rows(),
            outlets=tuple(sale for sale in self.plan.outlets if self.today <= sale.on <= last),
            work=tuple(day for day in self.plan.work if self.today <= day.on <= last),
            warnings=self.plan.warnings,
        )


def this_week(
    folder: Path, today: date, *, fetching: Fetching = AS_USUAL, progress: Progress = silent
) -> ThisWeek:
    """Return what to do in the next 7 days.

    The plan published today serves as long as yard, weather and diary are as they were then;
    else a plan is made without its proof, and nothing is published. Where the weather doesn't
    allow that, the plan last published is followed, as long as it reaches.

    Parameters and errors as in `plan_yard`.
    """
    yard = read_yard(folder, today)
    plan, not_renewed = last_plan(yard, today), ""
    published = plan is not None and is_fresh(plan, yard, today)
    state = read_yard_state(yard, today)
    if plan is None or not published:
        # Planning loads what takes as long to load as all the rest of this command.
        from fruitcast.app.planning import plan_yard

        try:
            planned = plan_yard(folder, today, fetching=fetching, publish=False, progress=progress)
        except (WeatherGapError, StationError) as error:
            if plan is None or today >= plan.today + timedelta(weeks=plan.weeks):
                raise
            not_renewed = str(error)
        else:
            plan, state = planned.document, planned.known.state
    jobs = week_ahead(reminders(plan, yard, state), today)
    return ThisWeek(today, yard, state, plan, published, jobs, not_renewed)
