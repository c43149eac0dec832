"""What to do in the next days, day by day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from pydantic import Field

from fruitcast.document import Day, Document
from fruitcast.publish.reminder import Reminder
from fruitcast.yard.plan import Sale

WEEK_DAYS = 7


class WeekJob(Document):
    """One job as it is printed."""

    on: Day
    at: str | None = Field(description="wall-clock time; null when any will do")
    until: Day
    kind: str = Field(
        validation_alias="job",
        serialization_alias="job",
        description="soak, pull, pins, pick, cover, pick twice, rest, ready, water, care, "
        "inspect, weigh or retire",
    )
    stack: str
    what: str
    reasons: tuple[str, ...]
    done: bool


class WeekAhead(Document):
    """What 'week --json' prints."""

    today: Day
    until: Day
    plan_published: bool = Field(
        description="false when no plan published today stands as yard, weather and diary are "
        "now, and one was made to answer"
    )
    jobs: tuple[WeekJob, ...]
    outlets: tuple[Sale, ...] = Field(description="the sales of these days as in the plan")
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Week:
    """The jobs of a week.

    Attributes
    ----------
    overdue : tuple of Reminder
        Pulls that should have been done before today: the logs are still in the tank.
    days : tuple of (date, tuple of Reminder)
        Each day with its jobs; what lasts several days stands on the first of them.
    """

    overdue: tuple[Reminder, ...]
    days: tuple[tuple[date, tuple[Reminder, ...]], ...]

    def rows(self) -> tuple[WeekJob, ...]:
        """Return the jobs as they are printed."""
        listed = [(job.first_day, job) for job in self.overdue]
        listed += [(day, job) for day, jobs in self.days for job in jobs]
        return tuple(
            WeekJob(
                on=day,
                at=f"{job.start:%H:%M}" if isinstance(job.start, datetime) else None,
                until=job.last_day,
                kind=job.kind,
                stack=job.stack,
                what=job.summary,
                reasons=job.reasons,
                done=job.done,
            )
            for day, job in listed
        )


def week(reminders: Iterable[Reminder], today: date) -> Week:
    """Return the week that begins today, out of all reminders of a plan and the diary."""
    listed = sorted(reminders, key=lambda r: (not isinstance(r.start, datetime), r.first_day))
    end = today + timedelta(days=WEEK_DAYS)
    days: dict[date, list[Reminder]] = {today + timedelta(days=k): [] for k in range(WEEK_DAYS)}
    for reminder in listed:
        if reminder.last_day >= today and reminder.first_day < end:
            days[max(reminder.first_day, today)].append(reminder)
    overdue = [r for r in listed if r.kind == "pull" and not r.done and r.last_day < today]
    return Week(tuple(overdue), tuple((day, tuple(jobs)) for day, jobs in days.items()))
