"""What to do in the next days, day by day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from pydantic import Field

from fruitcast.diary.plan import Plan, Sale, WorkDay
from fruitcast.document import Day, Document
from fruitcast.outputs.reminder import Reminder, in_dry_spells
from fruitcast.words import clean_line, count_words, day_words, hours_words
from fruitcast.yard.lots import SEPARATOR

WEEK_DAYS = 7

TOLD_HOURS = 0.1
"""Less work than this is not told. [h]"""


class WeekJob(Document):
    """One job as it is printed."""

    on: Day
    at: str | None = Field(description="wall-clock time; null when any will do")
    until: Day
    kind: str = Field(
        validation_alias="job",
        serialization_alias="job",
        description="soak, pull, pins, pick, picking, cover, pick twice, rest, ready, water, care, "
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
    work: tuple[WorkDay, ...] = Field(description="the hours of work of these days")
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
    days = {day: _once(jobs) for day, jobs in days.items()}
    overdue = [r for r in listed if r.kind == "pull" and not r.done and r.last_day < today]
    return Week(tuple(overdue), tuple((day, tuple(jobs)) for day, jobs in days.items()))


def _once(jobs: list[Reminder]) -> list[Reminder]:
    """Leave out the dry spells that new logs are watered in where their watering is told itself."""
    told = {name for job in jobs if job.kind == "water" for name in job.stacks}
    return [job for job in jobs if not (in_dry_spells(job) and job.stack in told)]


def told_together(jobs: Iterable[Reminder], plan: Plan) -> list[Reminder]:
    """Return a day's jobs, those that all lots of a stack have alike once, by the stack's name.

    Logs that were last soaked together lie and fruit together: the lots part when they are next
    taken out. What goes into the tank and out of it stays each lot's own.
    """
    lots: dict[str, set[str]] = {}
    planned = {soak.stack for soak in plan.soaks}
    for name in planned | {left.stack for left in plan.not_soaked}:
        lots.setdefault(name.partition(SEPARATOR)[0], set()).add(name)
    listed = [(job, _of_stack(job)) for job in jobs]
    alike: dict[Reminder, set[str]] = {}
    for job, whole in listed:
        alike.setdefault(whole, set()).add(job.stack)
    told = (whole if alike[whole] == lots.get(whole.stack) else job for job, whole in listed)
    return list(dict.fromkeys(told))


def _of_stack(job: Reminder) -> Reminder:
    """Return a lot's job as that of its whole stack, but for what takes its logs in or out."""
    stack, parted, _ = job.stack.partition(SEPARATOR)
    if not parted or job.kind in ("soak", "pull"):
        return job
    summary = job.summary.replace(clean_line(job.stack), clean_line(stack), 1)
    return replace(job, stack=stack, summary=summary, ordinal=0, description="")


def work_lines(plan: Plan, today: date) -> tuple[str, ...]:
    """Return what picking takes in the 7 days from today, and which days have too much work.

    Parameters
    ----------
    plan : Plan
        The plan.
    today : date
        The first day.
    """
    end = today + timedelta(days=WEEK_DAYS)
    week = [day for day in plan.work if today <= day.on < end]
    lines = []
    most = max(week, key=lambda day: day.picking_hours, default=None)
    if most is not None and most.picking_hours >= TOLD_HOURS:
        about = sum(day.picking_hours for day in week) / WEEK_DAYS
        busiest = f"most on {day_words(most.on)}, {hours_words(most.picking_hours)}"
        lines.append(f"Picking takes about {hours_words(max(about, TOLD_HOURS))} a day; {busiest}.")
    lines += [_too_much(day) for day in week if day.over]
    later = [day.on for day in plan.work if day.on >= end and day.over]
    if later:
        more = f" and {count_words(len(later) - 3, 'more day')}" if len(later) > 3 else ""
        days = ", ".join(day_words(day) for day in later[:3])
        lines.append(f"With the picking there is more work than hours on {days}{more}.")
    return tuple(lines)


def _too_much(day: WorkDay) -> str:
    parts = (
        ("soaking", day.soaking_hours),
        ("pulling", day.pulling_hours),
        ("picking", day.picking_hours),
    )
    told = ", ".join(f"{name} {hours_words(hours)}" for name, hours in parts if hours >= TOLD_HOURS)
    have = hours_words(day.allowed_hours or 0.0)
    return f"{day_words(day.on)}: about {hours_words(day.hours)} of work ({told}); you have {have}."
