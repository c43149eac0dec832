"""What to do in the next days, day by day, and the few lines that come first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import NamedTuple

from pydantic import Field

from fruitcast.diary.plan import NaturalFlush, Plan, PlannedSoak, Sale, WorkDay
from fruitcast.document import Day, Document
from fruitcast.outputs.reminder import Reminder, in_dry_spells, until_words
from fruitcast.outputs.reminder_writer import of_whole_stack
from fruitcast.units import SHOWN_AS_NONE_KG, Units, format_sale_weight, format_weight
from fruitcast.words import (
    NATURAL_CHANCE,
    and_words,
    capital,
    clean_line,
    comes_words,
    count_words,
    day_words,
    hours_words,
    percent_words,
)
from fruitcast.yard.model import stack_of

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
    plan_of: Day | None = Field(default=None, description="the day of the plan that is followed")
    not_renewed: str | None = Field(
        default=None,
        description="why no plan could be made to answer, so that the one last published is "
        "followed; else null",
    )
    jobs: tuple[WeekJob, ...]
    outlets: tuple[Sale, ...] = Field(description="the sales of these days as in the plan")
    work: tuple[WorkDay, ...] = Field(description="the hours of work of these days")
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Week:
    """The jobs of a week."""

    # Pulls that should have been done before today: the logs are still in the tank.
    overdue: tuple[Reminder, ...]
    # Each day with its jobs; what lasts several days stands on the first of them.
    days: tuple[tuple[date, tuple[Reminder, ...]], ...]

    def rows(self) -> tuple[WeekJob, ...]:
        """Return the jobs as they are printed."""
        listed = [(job.first_day, job) for job in self.overdue]
        listed += [(day, job) for day, jobs in self.days for job in jobs]
        return tuple(
            WeekJob.taken_from(
                job,
                on=day,
                at=f"{job.start:%H:%M}" if isinstance(job.start, datetime) else None,
                until=job.last_day,
                what=job.summary,
            )
            for day, job in listed
        )


def week_ahead(reminders: Iterable[Reminder], today: date) -> Week:
    """Return the week that begins today, out of all reminders of a plan and the diary."""
    listed = sorted(reminders, key=lambda r: (not isinstance(r.start, datetime), r.first_day))
    end = today + timedelta(days=WEEK_DAYS)
    days: dict[date, list[Reminder]] = {today + timedelta(days=k): [] for k in range(WEEK_DAYS)}
    for reminder in listed:
        if in_dry_spells(reminder) and reminder.first_day < today:
            # How often a month's dry spells want water is told once; the days on which these logs
            # do are jobs of their own, which know the rain and what was watered.
            continue
        if reminder.last_day >= today and reminder.first_day < end:
            days[max(reminder.first_day, today)].append(reminder)
    days = {day: _once(jobs) for day, jobs in days.items()}
    overdue = [r for r in listed if r.kind == "pull" and not r.done and r.last_day < today]
    return Week(tuple(overdue), tuple((day, tuple(jobs)) for day, jobs in days.items()))


def _once(jobs: list[Reminder]) -> list[Reminder]:
    """Leave out the dry spells that new logs are watered in where their watering is told itself."""
    told = {name for job in jobs if job.kind == "water" for name in job.stacks}
    return [job for job in jobs if not (in_dry_spells(job) and job.stack in told)]


def told_together(jobs: Iterable[Reminder], plan: Plan, units: Units) -> list[Reminder]:
    """Return a day's jobs, those that all lots of a stack have alike once, by the stack's name.

    Logs that were last soaked together lie and fruit together: the lots part when they are next
    taken out. What goes into the tank and out of it stays each lot's own; weights are summed.
    """
    lots: dict[str, set[str]] = {}
    planned = {soak.stack for soak in plan.soaks}
    for name in planned | {left.stack for left in plan.not_soaked}:
        lots.setdefault(stack_of(name), set()).add(name)
    alike: dict[Reminder, list[Reminder]] = {}
    listed = [(job, _alike(job, units)) for job in jobs]
    for job, whole in listed:
        alike.setdefault(whole, []).append(job)
    told = []
    for job, whole in listed:
        group = alike[whole]
        if {one.stack for one in group} != lots.get(whole.stack):
            told.append(job)
        elif job is group[0]:
            told.append(job if job == whole else of_whole_stack(whole.stack, group, units))
    return told


def _alike(job: Reminder, units: Units) -> Reminder:
    """Return a lot's job under its stack's name, but for what takes its logs in or out."""
    stack = stack_of(job.stack)
    if stack == job.stack or job.kind in ("soak", "pull"):
        return job
    return of_whole_stack(stack, [job], units)


@dataclass(frozen=True)
class DayTold:
    """A day of the week with its jobs and sales, or days in a row that have neither."""

    first: date
    last: date
    jobs: tuple[Reminder, ...] = ()
    sales: tuple[Sale, ...] = ()

    @property
    def idle(self) -> bool:
        """Whether there is nothing to do."""
        return not self.jobs and not self.sales

    @property
    def until(self) -> str:
        """The last of several days in words; empty for one."""
        return f" to {day_words(self.last)}" if self.last > self.first else ""


def days_told(week: Week, plan: Plan) -> list[DayTold]:
    """Return the days of a week in order, those in a row with nothing to do as one."""
    found: list[DayTold] = []
    for day, jobs in week.days:
        told = DayTold(day, day, jobs, tuple(sale for sale in plan.outlets if sale.on == day))
        if told.idle and found and found[-1].idle:
            found[-1] = replace(found[-1], last=day)
        else:
            found.append(told)
    return found


def work_lines(plan: Plan, today: date) -> tuple[str, ...]:
    """Return what picking takes in the 7 days from today, and which days have too much work."""
    end = today + timedelta(days=WEEK_DAYS)
    week = [day for day in plan.work if today <= day.on < end]
    lines = []
    most = max(week, key=lambda day: day.picking_hours, default=None)
    if most is not None and most.picking_hours >= TOLD_HOURS:
        about = sum(day.picking_hours for day in week) / WEEK_DAYS
        busiest = f"most on {day_words(most.on)}, {_time_words(most.picking_hours)}"
        lines.append(f"Picking takes about {_time_words(about)} a day; {busiest}.")
    lines += [_too_much(day) for day in week if day.over]
    later = [day.on for day in plan.work if day.on >= end and day.over]
    if later:
        more = f" and {count_words(len(later) - 3, 'more day')}" if len(later) > 3 else ""
        days = ", ".join(day_words(day) for day in later[:3])
        lines.append(f"With the picking there is more work than hours on {days}{more}.")
    return tuple(lines)


def _time_words(hours: float) -> str:
    """Return how long some work takes: '1.4 h', what is less than an hour in minutes."""
    return hours_words(hours) if hours >= 1 else f"{max(round(12 * hours), 1) * 5} min"


def _too_much(day: WorkDay) -> str:
    parts = (
        ("soaking", day.soaking_hours),
        ("pulling", day.pulling_hours),
        ("picking", day.picking_hours),
    )
    told = ", ".join(f"{name} {hours_words(hours)}" for name, hours in parts if hours >= TOLD_HOURS)
    have = hours_words(day.allowed_hours or 0.0)
    return f"{day_words(day.on)}: about {hours_words(day.hours)} of work ({told}); you have {have}."


# The few lines that come first: what to do this week, what can be sold next, what may come.

SALE_DAYS = 2
"""So many days of sale are told first."""
NATURAL_DAYS = 21
"""A natural flush is told of so far ahead: beyond it the weather says nothing of it."""
CANNOT_BE_FILLED = 0.2
"""A sale whose whole amount is there with a smaller chance is said to be out of reach."""
MOST_JOBS = 8
"""Jobs told one by one; the rest are counted."""


@dataclass(frozen=True)
class ToDo:
    """One job of the week."""

    on: date  # or the first from today on
    words: str
    why: str = ""  # half a sentence; empty for what explains itself


@dataclass(frozen=True)
class Glance:
    """How the yard stands, shortest first."""

    short: str  # the week in one sentence
    jobs: tuple[ToDo, ...]  # what to do this week
    sales: tuple[str, ...]  # what can be sold on the next days of sale
    natural: tuple[str, ...]  # what may come by itself


def glance(plan: Plan, week: Week, units: Units, today: date) -> Glance:
    """Return the answer to 'what now?'."""
    soaks = {(soak.stack, soak.soak_on): soak for soak in plan.soaks}
    jobs = tuple(_jobs(plan, week, soaks, units, today))
    sales = _next_sales(plan, today)
    return Glance(
        _short(week, soaks, sales, units, today),
        jobs if len(jobs) <= MOST_JOBS else (*jobs[:MOST_JOBS], _more(jobs[MOST_JOBS:])),
        tuple(f"{day_words(sale.on)}: {sale_words(sale, units)}" for sale in sales),
        tuple(natural_words(plan, units, today)),
    )


def sale_words(sale: Sale, units: Units) -> str:
    """Return what can be said to an outlet about one day: 'Village shop, all 4 lb'."""
    outlet, wanted = clean_line(sale.outlet), format_weight(sale.target_kg, units)
    promise = format_weight(sale.promise_kg, units)
    if sale.given_kg:
        return f"{outlet}, {_given_words(sale, units)}"
    if promised_in_full(sale, units):
        return f"{outlet}, you can promise all {wanted}"
    if sale.promise_kg < SHOWN_AS_NONE_KG:
        return f"{outlet} wants {wanted}: promise nothing yet"
    if not _can_be_promised(sale):
        return f"{outlet}, you can't fill this: about {promise} of {wanted}"
    return f"{outlet}, promise {promise} of {wanted}"


class SaleCells(NamedTuple):
    """One day of an outlet as the tables of terminal, page and report tell it."""

    day: str
    wanted: str
    promise: str
    given: str
    chance: str
    likely: str
    expected: str


def sale_cells(sale: Sale, units: Units) -> SaleCells:
    """Return the cells of one sale; what was promised is empty where nothing was."""
    low, high = (
        format_sale_weight(kg, units) for kg in (sale.available_p10_kg, sale.available_p90_kg)
    )
    return SaleCells(
        day=day_words(sale.on),
        wanted=format_weight(sale.target_kg, units),
        promise=format_sale_weight(sale.promise_kg, units),
        given=format_weight(sale.given_kg, units) if sale.given_kg else "",
        chance=percent_words(sale.chance),
        expected=format_weight(sale.delivered_kg, units),
        likely=low if low == high else f"{low} to {high}",
    )


class Totals(NamedTuple):
    """What some sales want, what of it is expected to reach them, and its share."""

    wanted: str
    expected: str
    share: str  # empty where nothing is wanted


def totals(sales: Iterable[Sale], units: Units) -> Totals:
    """Return what some sales want and will have."""
    told = [(sale.target_kg, sale.delivered_kg) for sale in sales]
    wanted, expected = sum(kg for kg, _ in told), sum(kg for _, kg in told)
    share = percent_words(expected / wanted) if wanted else ""
    return Totals(format_weight(wanted, units), format_weight(expected, units), share)


def promised_in_full(sale: Sale, units: Units) -> bool:
    """Return whether all that is wanted can be promised, or what reads like all of it."""
    promise, wanted = sale.promise_kg, sale.target_kg
    return promise >= wanted or format_weight(promise, units) == format_weight(wanted, units)


def _given_words(sale: Sale, units: Units) -> str:
    """Return how it stands with a promise that was given: '2 kg promised: likely enough'."""
    given = sale.given_kg or 0.0
    said = f"{format_weight(given, units)} promised"
    if sale.promise_kg < given - SHOWN_AS_NONE_KG:
        if sale.promise_kg < SHOWN_AS_NONE_KG:
            return f"{said}, but none of it is likely enough: tell them in time"
        likely = format_weight(sale.promise_kg, units)
        return f"{said}, but only {likely} is likely enough: tell them in time"
    if sale.promise_kg < given + SHOWN_AS_NONE_KG:
        return f"{said}: likely enough"
    wanted = format_weight(sale.target_kg, units)
    if promised_in_full(sale, units):
        return f"{said}; you can promise all {wanted}"
    return f"{said}; you can promise {format_weight(sale.promise_kg, units)} of {wanted} in all"


def _can_be_promised(sale: Sale) -> bool:
    filled = sale.promise_kg >= sale.target_kg or sale.chance >= CANNOT_BE_FILLED
    return filled and sale.promise_kg >= SHOWN_AS_NONE_KG


def soak_sentence(soak: PlannedSoak) -> str:
    """Return one soak as a sentence begins: 'soak H/1 on Fri 7 May for 48 h'."""
    return (
        f"soak {clean_line(soak.stack)} on {day_words(soak.soak_on)} for {hours_words(soak.hours)}"
    )


def _jobs(
    plan: Plan, week: Week, soaks: dict[tuple[str, date], PlannedSoak], units: Units, today: date
) -> Iterator[ToDo]:
    for job in week.overdue:
        yield ToDo(today, f"{job.summary}: {until_words(job, today)}")
    for day, listed in week.days:
        alike: dict[str, list[Reminder]] = {}
        for job in told_together(listed, plan, units):
            if job.done:
                continue
            if job.kind in ("pins", "rest"):
                # What is only to be watched is told for all stacks at once.
                alike.setdefault(job.kind, []).append(job)
                continue
            soak = soaks.get((job.stack, day)) if job.kind == "soak" else None
            until = until_words(job, day)
            why = why_words(soak, units) if soak else ""
            if job.kind == "inspect" and job.reasons:
                why = f"{capital(job.reasons[0])}."
            yield ToDo(day, f"{job.summary}, {until}" if until else job.summary, why)
        for kind, jobs in alike.items():
            stacks = and_words(sorted(clean_line(job.stack) for job in jobs))
            rested = f"{stacks} {'is' if len(jobs) == 1 else 'are'} rested"
            yield ToDo(day, f"Watch {stacks} for pins" if kind == "pins" else rested)


def why_words(soak: PlannedSoak, units: Units) -> str:
    """Return half a sentence on what a soak brings, when, and what it is for."""
    if not soak.expected_kg:
        return "Nothing is likely to come of it."
    brings = (
        f"About {format_weight(soak.expected_kg, units)}, first pick {day_words(soak.pick.p50)}"
    )
    if comes := comes_words(soak.comes):
        brings += f"; {comes}"
    feeds = feeds_words(soak)
    return f"{brings}; {feeds}." if feeds else f"{brings}."


def feeds_words(soak: PlannedSoak) -> str:
    """Return what a soak is for: 'feeds Saturday market on Sat 5 Jun and 11 later sales'."""
    if not soak.covers:
        return ""
    # What a few lucky years bring before the likely first pick is not what it is soaked for.
    likely = [cover for cover in soak.covers if cover.on >= soak.pick.p50]
    first = min(likely or soak.covers, key=lambda cover: cover.on)
    rest = len(soak.covers) - 1
    more = f" and {count_words(rest, 'later sale')}" if rest else ""
    return f"feeds {clean_line(first.outlet)} on {day_words(first.on)}{more}"


def _next_sales(plan: Plan, today: date) -> list[Sale]:
    coming = sorted((sale for sale in plan.outlets if sale.on >= today), key=lambda sale: sale.on)
    days = sorted({sale.on for sale in coming})[:SALE_DAYS]
    return [sale for sale in coming if sale.on in days]


def natural_words(plan: Plan, units: Units, today: date) -> Iterator[str]:
    """Yield the natural flushes of the next weeks that may well come, a line for each week.

    One that has begun is told by what is still to come of it, and not once more here.
    """
    monday = today - timedelta(days=today.weekday())
    going_on = {flush.stack: flush.last for flush in plan.flushes if flush.kind == "natural"}
    weeks: dict[date, list[NaturalFlush]] = {}
    for entry in plan.natural:
        near = monday <= entry.week < today + timedelta(days=NATURAL_DAYS)
        begun = entry.week <= going_on.get(entry.stack, date.min)
        if near and entry.chance >= NATURAL_CHANCE and not begun:
            weeks.setdefault(entry.week, []).append(entry)
    for week in sorted(weeks):
        when = "this week" if week == monday else f"in the week of {day_words(week)}"
        told = [
            f"{clean_line(entry.stack)} ({percent_words(entry.chance)} likely, then about "
            f"{format_weight(entry.kg_if_it_comes, units)})"
            for entry in weeks[week]
        ]
        yield f"{and_words(told)} {when}"


def _short(
    week: Week,
    soaks: dict[tuple[str, date], PlannedSoak],
    sales: Sequence[Sale],
    units: Units,
    today: date,
) -> str:
    now = [
        soaks[job.stack, day]
        for day, jobs in week.days
        for job in jobs
        if job.kind == "soak" and not job.done and (job.stack, day) in soaks
    ]
    said = [f"{job.summary.lower()[:1]}{job.summary[1:]} now" for job in week.overdue]
    said += [soak_sentence(soak) for soak in now]
    if not now:
        end = today + timedelta(days=WEEK_DAYS)
        ahead = [soak for soak in soaks.values() if soak.soak_on >= end]
        later = min(ahead, key=lambda soak: soak.soak_on, default=None)
        said.append(
            "no soak this week"
            + (
                f"; the next is {clean_line(later.stack)} on {day_words(later.soak_on)}"
                if later
                else ""
            )
        )
    promised = next((sale for sale in sales if _can_be_promised(sale) and not sale.given_kg), None)
    if promised:
        said.append(
            f"promise {clean_line(promised.outlet)} {format_weight(promised.promise_kg, units)} "
            f"for {day_words(promised.on)}"
        )
    return f"{capital('; '.join(said))}."


def _more(jobs: Sequence[ToDo]) -> ToDo:
    return ToDo(jobs[0].on, f"{count_words(len(jobs), 'more job')}: 'fruitcast week' lists all")
