"""How a page says things: jobs, changes of the plan, stacks, how sure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from fruitcast.app.serving import Situation
from fruitcast.diary.events import (
    COVER,
    FRUITING,
    HOLD,
    INSPECT,
    PICK,
    PINS,
    PULL,
    SOAK,
    TURN,
    WATER,
)
from fruitcast.diary.kept_plan import NATURAL_DAYS, StackStanding
from fruitcast.diary.plan import OtherSoak, Plan
from fruitcast.outputs.plan_words import gap_words
from fruitcast.outputs.reminder import INOCULATING, Reminder, is_turning, until_words
from fruitcast.outputs.week import days_told, promised_in_full, sale_words, totals
from fruitcast.units import Units
from fruitcast.words import clean_line, count_words, day_words, percent_words, time_words

NOT_NOW_DAYS = 14
"""'Not this time' keeps a stack out of the tank for so long after the day that was planned."""


@dataclass(frozen=True)
class Action:
    """A button of a job: where it leads and what it says."""

    href: str
    label: str
    main: bool = True


@dataclass(frozen=True)
class Job:
    """One job as a page shows it."""

    title: str
    when: str  # time of day, span of days or how long it is due; empty when there is nothing to say
    reasons: tuple[str, ...]
    done: bool
    actions: tuple[Action, ...] = ()  # how to record it


@dataclass(frozen=True)
class Day:
    """One day of the week: its name, jobs and sales."""

    title: str
    jobs: tuple[Job, ...]
    sales: tuple[str, ...]


WRITE_DOWN = {
    "inspect": "Write what you found",
    "weigh": "Write what it weighs",
    "retire": "Write how many",
}
"""What the button says that records what the logs' state asks for."""


def week_days(now: Situation) -> list[Day]:
    """Return what is overdue, today and the six days that follow."""
    jobs = now.week
    if jobs is None or now.plan is None:
        return []
    found = []
    if jobs.overdue:
        found.append(Day("Overdue", tuple(_job(now, job, now.today) for job in jobs.overdue), ()))
    for told in days_told(jobs, now.plan):
        found.append(
            Day(
                f"{_day_title(told.first, now.today)}{told.until}",
                tuple(_job(now, job, told.first) for job in told.jobs),
                tuple(sale_words(sale, now.yard.units) for sale in told.sales),
            )
        )
    return found


def _day_title(day: date, today: date) -> str:
    near = {today: "Today, ", today + timedelta(days=1): "Tomorrow, "}
    return f"{near.get(day, '')}{day_words(day)}"


def _job(now: Situation, job: Reminder, day: date) -> Job:
    parts = []
    if isinstance(job.start, datetime) and job.first_day == day:
        parts.append(f"at {time_words(job.start)}")
    if until := until_words(job, day):
        parts.append(until)
    actions: tuple[Action, ...] = ()
    # A flush under way may be picked again on the day of the last pick.
    if not job.done and (day <= now.today or job.kind == "picking"):
        actions = tuple(_actions(now, job))
    elif not job.done and job.kind == "soak":
        actions = tuple(_word_actions(now, job))
    return Job(job.summary, ", ".join(parts), job.reasons, job.done, actions)


def _actions(now: Situation, job: Reminder) -> Iterable[Action]:
    stack = {"stack": job.stack}
    if job.kind == "soak":
        entry = _planned_soak(now, job)
        yield Action(form_link(SOAK, check="1", **stack, **entry), "Soaked as planned")
        yield Action(form_link(SOAK, **stack), "Soaked otherwise", main=False)
        yield from _word_actions(now, job)
    elif job.kind == "pull":
        yield Action(form_link(PULL, check="1", **stack), "Pulled as planned")
        yield Action(form_link(PULL, **stack), "Pulled on another day", main=False)
    elif job.kind in ("pick", "picking", "pick twice"):
        yield Action(form_link(PICK, **stack), f"Picked {clean_line(job.stack)}")
        if job.kind != "pick":
            return
        yield Action(form_link(PINS, check="1", **stack), "Pins seen", main=False)
        yield Action(yes_link(f"nothing {job.stack}"), "Nothing came", main=False)
    elif job.kind == "cover":
        yield Action(form_link(COVER, check="1", **stack), "Covered")
    elif job.kind == "care" and is_turning(job.ordinal):
        yield Action(form_link(TURN, check="1", **stack), "Turned")
    elif job.kind == "care" and job.ordinal == INOCULATING:
        yield Action(yes_link(f"inoculate {job.stack}"), "Inoculated")
    elif job.kind == "pins":
        yield Action(form_link(PINS, check="1", **stack), "Pins seen")
        yield Action(form_link(FRUITING, check="1", **stack), "Seen fruiting", main=False)
    elif job.kind == "water":
        yield Action(
            form_link(WATER, check="1", stack=_thirsty(now, job.first_day)), "Watered as advised"
        )
        yield Action(form_link(WATER), "Watered otherwise", main=False)
    elif job.kind == "ready":
        words = f"inspect {job.stack} spawn run done"
        yield Action(yes_link(words), "Spawn run done", main=False)
    elif job.kind == INSPECT:
        yield Action(asked_link(INSPECT, job.stack), WRITE_DOWN[INSPECT], main=False)
    elif job.kind in WRITE_DOWN:
        words = f"{job.kind} {clean_line(job.stack)} "
        yield Action(words_link(words), WRITE_DOWN[job.kind], main=False)


def _word_actions(now: Situation, job: Reminder) -> Iterator[Action]:
    """Yield ways to overrule a planned soak: each asks once before it is written."""
    state = now.state.stacks.get(job.stack)
    if state is not None and state.fixed and state.fixed[0] == job.first_day:
        yield Action(yes_link(f"release {job.stack}"), "Let the plan choose", main=False)
        return
    later = job.first_day + timedelta(days=NOT_NOW_DAYS)
    fix = yes_link(f"fix {job.stack} {job.first_day}")
    yield Action(fix, "Keep it on this day", main=False)
    yield Action(asked_link(HOLD, job.stack, until=later), "Not this time", main=False)
    yield Action(try_link(job.stack), "Try another day", main=False)


def place_words(note: str) -> str:
    """Return a note or its place without file and line, where it names the stack: 'Shed: ...'."""
    return re.sub(r"^stacks\.csv(?: line \d+)?, stack ", "", note)


def words_link(words: str) -> str:
    """Return the address of the page on which a record is written in words, begun with some."""
    return f"/record/words?{urlencode({'words': words})}"


def yes_link(words: str) -> str:
    """Return the address of the page that asks whether to write what some words mean."""
    return f"/record/words?{urlencode({'words': words, 'check': 1})}"


def asked_link(kind: str, stack: str, **fields: object) -> str:
    """Return the address of the page that asks what a record of a stack still wants."""
    return f"/record/asked/{kind}?{urlencode({'stack': stack, **fields})}"


def try_link(stack: str) -> str:
    """Return the address of the page on which a soak of a stack is tried out."""
    return f"/try?{urlencode({'stack': stack})}"


def change_link(stack: str) -> str:
    """Return the address of the form that changes a stack's row."""
    return f"/change/stack?{urlencode({'name': stack})}"


def _planned_soak(now: Situation, job: Reminder) -> dict[str, int | str]:
    for soak in now.plan.soaks if now.plan else ():
        if soak.stack == job.stack and soak.soak_on == job.first_day:
            return {"logs": soak.logs, "hours": f"{soak.hours:g}"}
    return {}


def _thirsty(now: Situation, day: date) -> list[str]:
    entries = now.plan.water if now.plan else ()
    given = {
        name
        for name, stack in now.state.stacks.items()
        if any(on == day for on, _ in stack.watered)
    }
    return [entry.stack for entry in entries if entry.on == day and entry.stack not in given]


def form_link(kind: str, **fields: Any) -> str:
    """Return the address of a record's form with some fields filled in."""
    given = {name: value for name, value in fields.items() if value not in (None, "", [])}
    query = urlencode(given, doseq=True)
    return f"/record/{kind}?{query}" if query else f"/record/{kind}"


def change_words(changes: Iterable[OtherSoak]) -> list[str]:
    """Return how a new plan differs from the one before, one sentence a stack."""
    lines = []
    for change in changes:
        stack = clean_line(change.stack)
        before, after = (day and day_words(day) for day in (change.before, change.after))
        if before is None:
            lines.append(f"{stack}: next soak {after}, none was planned")
        elif after is None:
            lines.append(f"{stack}: no soak planned any more, it was {before}")
        else:
            lines.append(f"{stack}: next soak {after}, it was {before}")
    return lines


def stack_rows(now: Situation) -> list[dict[str, str]]:
    """Return each stack with its state and its next date, as far as they are known."""
    known = {row.stack: row for row in now.background.stacks}
    waits = now.plan.why_wait(now.today) if now.plan else {}
    found = []
    for name, state in now.state.stacks.items():
        row = known.get(name, StackStanding(stack=name, state="not looked at yet"))
        stack = now.yard.by_name[now.state.lot_of[name]]
        wet = row.moisture_wet
        found.append(
            {
                "name": name,
                "logs": f"{state.logs} {'log' if state.logs == 1 else 'logs'} of {stack.tree}",
                "kind": stack.strain_class,
                "state": "in the tank"
                if state.in_tank and "in the tank" not in row.state
                else row.state,
                "next": _next_date(row, now.today),
                "waits": waits.get(name, ""),
                "try": try_link(name),
                "change": change_link(stack.name),
                "hold": asked_link(HOLD, name),
                "release": yes_link(f"release {name}") if state.fixed or state.held_since else "",
                "wet": "" if wet is None else f"about {percent_words(wet)} wet",
                "natural": _natural_words(row),
            }
        )
    return found


def _next_date(row: StackStanding, today: date) -> str:
    if row.next_soak_on:
        return f"soak {day_words(row.next_soak_on, today)}"
    if row.soakable_from:
        if row.soakable_from <= today:
            return "ready; no soak planned"
        return f"may be soaked from {day_words(row.soakable_from, today)}"
    if row.ready and row.ready.likely and row.ready.likely >= today:
        return f"spawn run done by {day_words(row.ready.likely, today)}"
    return "no date yet"


def _natural_words(row: StackStanding) -> str:
    chance, on = row.natural_chance, row.natural_pick_on
    if not chance or not on or "fruiting" in row.state:
        return ""
    within = count_words(NATURAL_DAYS // 7, "week")
    return (
        f"{percent_words(chance)} likely to fruit by itself within {within}, first about "
        f"{day_words(on)}"
    )


def sure_words(plan: Plan, units: Units) -> list[str]:
    """Return how sure the season's supply is, in sentences."""
    lines = []
    sales = plan.outlets
    wanted, expected, share = totals(sales, units)
    if share:
        lines.append(
            f"The outlets want {wanted} in all; {expected} ({share}) is expected to reach them, "
            "as a mean over the weather years."
        )
        full = sum(promised_in_full(sale, units) for sale in sales)
        lines.append(f"{full} of {len(sales)} days can be promised in full.")
    lines.append(
        f"A promise holds in {percent_words(plan.promise)} of {plan.members} "
        "possible seasons. It is the model's own word: your picks show how good it is."
    )
    if gap := gap_words(plan):
        lines.append(f"Within the model no plan is better by more than {gap} of what is wanted.")
    return lines
