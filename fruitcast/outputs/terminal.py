"""Tables and lists for the terminal, in the yard's units.

Everything returned is a rich renderable that fits the window it is printed in, down to 60
columns, and reads the same without colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from fruitcast.diary.plan import Plan, PlannedSoak
from fruitcast.diary.state import YardState
from fruitcast.errors import Fault
from fruitcast.outputs.listing import Column, Indented, Listing, Row, section, table, title
from fruitcast.outputs.plan_words import (
    gap_words,
    learned_change_words,
    model_change_lines,
    stacks_words,
    table_words,
)
from fruitcast.outputs.reminder import Reminder, until_words
from fruitcast.outputs.reminders import reminders
from fruitcast.outputs.week import (
    WEEK_DAYS,
    Glance,
    days_told,
    glance,
    sale_cells,
    sale_words,
    told_together,
    totals,
    week_ahead,
    work_lines,
)
from fruitcast.units import format_weight
from fruitcast.words import (
    BEYOND_THREE_WEEKS,
    NATURAL_CHANCE,
    about_words,
    clean_line,
    comes_words,
    count_words,
    day_words,
    hours_words,
    percent_words,
    promise_meaning,
    share_words,
    time_words,
)
from fruitcast.yard.model import Yard

if TYPE_CHECKING:
    from fruitcast.diary.kept_plan import StackStanding

NEAR_WEEKS = 4
"""Weeks that a plan shows unless all is asked for."""
OUTLET_WEEKS = 8
"""Weeks of outlet days listed one by one when all is asked for; the rest is summed up."""


class PlanAnswer:
    """A plan for reading; its week is reckoned once for all that is told of it."""

    def __init__(self, plan: Plan, yard: Yard, state: YardState) -> None:
        self._plan, self._yard, self._state = plan, yard, state

    @cached_property
    def _seen(self) -> Glance:
        plan, yard = self._plan, self._yard
        week = week_ahead(reminders(plan, yard, self._state), plan.today)
        return glance(plan, week, yard.units, plan.today)

    def table(self, *, whole: bool = False) -> RenderableType:
        """Return the answer first, then the weeks ahead.

        With `whole` it is the whole season with every reason; else the next four weeks.
        """
        plan, yard = self._plan, self._yard
        parts: list[RenderableType] = [*_glance(self._seen)]
        parts += section("As you decided", (one.words for one in plan.decisions))
        learned = learned_change_words(plan.learned_change, plan.today)
        changes = [*([learned] if learned else []), *_changes(plan)]
        parts += section("Changed since the last plan", changes)
        parts += _season(plan, yard) if whole else _near(plan, yard)
        for each in () if yard.sells else table_words(plan, yard):
            parts += section(each.title, each.lines)
        parts += section("The model has changed", model_change_lines(plan, yard.units))
        parts += section("Worth trying", plan.advice)
        parts += [Text(), *_closing(plan, yard)]
        return Group(*parts)

    def short(self) -> RenderableType:
        """Return the week in one sentence, to stand last where a long answer has scrolled away."""
        return Group(title("In short"), Indented(self._seen.short))


def _glance(seen: Glance) -> Iterable[RenderableType]:
    yield title("This week")
    if not seen.jobs:
        yield Indented(seen.short)
    for job in seen.jobs:
        yield Indented(f"{day_words(job.on)}: {job.words}")
        if job.why:
            yield Indented(job.why, 4, "dim")
    yield from section("Next to sell", (f"{sale}." for sale in seen.sales))
    yield from section("May come by itself", (f"{line}." for line in seen.natural))


def _changes(plan: Plan) -> Iterable[str]:
    for change in plan.changes:
        stack = clean_line(change.stack)
        match change.before, change.after:
            case None, date() as after:
                said = f"{stack}: now soaked on {day_words(after)}"
            case date() as before, None:
                said = f"{stack}: no soak on {day_words(before)} any more"
            case date() as before, date() as after:
                said = f"{stack}: {day_words(after)}, was {day_words(before)}"
            case _:
                continue
        yield f"{said}; {clean_line(change.reason)}."


def _near(plan: Plan, yard: Yard) -> list[RenderableType]:
    """Return the next weeks: soaks, sales, water."""
    end = plan.today + timedelta(weeks=min(NEAR_WEEKS, plan.weeks))
    parts: list[RenderableType] = [
        title(f"Soaks in the next {count_words(min(NEAR_WEEKS, plan.weeks), 'week')}"),
        _soaks([soak for soak in plan.soaks if soak.soak_on < end], yard, reasons=False),
    ]
    parts += [*_sales(plan, yard, end), *_watering(plan)]
    later = sum(soak.soak_on >= end for soak in plan.soaks)
    alone = [left.stack for left in plan.not_soaked]
    said = [count_words(later, "later soak")] if later else []
    if alone:
        many = stacks_words(alone, [*alone, *(soak.stack for soak in plan.soaks)])
        stay = "stays" if many in ("1 stack", "1 lot") else "stay"
        said.append(f"why {many} {stay} out of the tank")
    if said:
        parts.append(Indented(f"'fruitcast plan --all' also shows {' and '.join(said)}."))
    return parts


def _season(plan: Plan, yard: Yard) -> list[RenderableType]:
    """Return the whole season: soaks with reasons, stacks left alone, sales, natural flushes."""
    today, end = plan.today, plan.today + timedelta(weeks=OUTLET_WEEKS)
    parts: list[RenderableType] = [
        title(f"Soaks in the {count_words(plan.weeks, 'week')} from {day_words(today)}"),
        _soaks(plan.soaks, yard, reasons=True),
    ]
    alone = ((entry.stack, entry.reason) for entry in plan.not_soaked)
    return [
        *parts,
        *section("Left alone", _each_stack(alone)),
        *_sales(plan, yard, end),
        *_natural(plan, yard, end),
        *_watering(plan),
    ]


def week_table(plan: Plan, yard: Yard, state: YardState, today: date) -> RenderableType:
    """Return what to do in the next 7 days, day by day with reasons, and what can be promised."""
    jobs = week_ahead(reminders(plan, yard, state), today)
    end = today + timedelta(days=WEEK_DAYS)
    parts: list[RenderableType] = []
    if jobs.overdue:
        parts += [title("Overdue"), *(_job(job, today) for job in jobs.overdue)]
    for told in days_told(jobs, plan):
        now = " (today)" if told.first == today else ""
        parts.append(title(f"{day_words(told.first)}{now}{told.until}"))
        parts += [_job(job, told.first) for job in told_together(told.jobs, plan, yard.units)]
        parts += [
            Indented(f"{sale_words(sale, yard.units)} (all of it: {percent_words(sale.chance)})")
            for sale in told.sales
        ]
        parts += [Indented("Nothing to do.", style="dim")] if told.idle else []
    parts += section("Work", work_lines(plan, today))
    parts += section("Not this week", _each_stack(_not_this_week(plan, today, end)))
    return Group(*parts)


def stacks_table(rows: Sequence[StackStanding], natural_days: int) -> RenderableType:
    """Return each stack as it stands today.

    The chance of a natural flush is given for `natural_days` ahead.
    """
    within = count_words(natural_days // 7, "week")
    listing = table(
        rows,
        (Column("Stack"), lambda row: row.stack),
        (Column("Logs", "right", aside="{} logs"), lambda row: str(row.logs)),
        (Column("State"), lambda row: row.state),
        (Column("Water", "right", aside="{} water"), lambda row: share_words(row.moisture_wet)),
        (
            Column("Rest left", "right", aside="{} of rest left"),
            lambda row: count_words(row.rest_left_days, "day") if row.rest_left_days else "",
        ),
        (
            Column("By itself", "right", aside="by itself {}"),
            lambda row: share_words(row.natural_chance),
        ),
        (
            Column("Next soak", aside="next soak {}"),
            lambda row: day_words(row.next_soak_on) if row.next_soak_on else "",
        ),
        note=lambda row: f"{row.strain_class}, {row.tree}",
    )
    return Group(
        listing,
        Indented(
            f"Water: its share of the logs' weight. By itself: the chance of first mushrooms "
            f"without a soak within {within}.",
            style="dim",
        ),
    )


def faults_list(faults: Iterable[Fault]) -> RenderableType:
    """Return faults with their places and remedies, one after the other."""
    parts: list[RenderableType] = []
    for fault in faults:
        parts += [
            Text(clean_line(fault.place), style="bold"),
            Indented(f"{fault.problem}. {fault.remedy}"),
        ]
    return Group(*parts)


def _soaks(soaks: Sequence[PlannedSoak], yard: Yard, *, reasons: bool) -> RenderableType:
    if not soaks:
        return Indented("No soak is planned.")

    def note(soak: PlannedSoak) -> str:
        return "; ".join(
            filter(None, (comes_words(soak.comes), *(soak.reasons if reasons else ())))
        )

    return table(
        sorted(soaks, key=lambda soak: (soak.soak_on, soak.stack)),
        (Column("Soak"), lambda soak: day_words(soak.soak_on)),
        (Column("Stack"), lambda soak: soak.stack),
        (Column("Logs", "right", aside="{} logs"), lambda soak: str(soak.logs)),
        (Column("Hours", "right", aside="{} in water"), lambda soak: hours_words(soak.hours)),
        (Column("Pull", aside="pull {}"), lambda soak: day_words(soak.pull_on)),
        (
            Column("First pick"),
            lambda soak: about_words(soak.pick.p10, soak.pick.p50, soak.pick.p90),
        ),
        (
            Column("Expected", "right", aside="{} expected"),
            lambda soak: format_weight(soak.expected_kg, yard.units),
        ),
        note=note,
    )


def _each_stack(entries: Iterable[tuple[str, str]]) -> Iterable[str]:
    """Return what is said of each stack; what is the same of several is said once."""
    stacks: dict[str, list[str]] = {}
    for stack, reason in entries:
        stacks.setdefault(clean_line(reason), []).append(clean_line(stack))
    return (f"{', '.join(names)}: {reason}" for reason, names in stacks.items())


def _sales(plan: Plan, yard: Yard, end: date) -> list[RenderableType]:
    if not plan.outlets:
        return []
    columns = (
        Column("Day"),
        Column("Outlet"),
        Column("Wanted", "right"),
        Column("Can promise", "right"),
        Column("Promised", "right", aside="{} promised"),
        Column("All of it", "right", aside="all of it {}"),
        Column("Likely amount", aside="likely {} on hand"),
    )
    told = [(sale, sale_cells(sale, yard.units)) for sale in plan.outlets if sale.on < end]
    rows = [Row(of.day, sale.outlet, *of[1:6]) for sale, of in told]
    parts: list[RenderableType] = [title("For sale")]
    if rows:
        parts += [Listing(columns, rows), Indented(promise_meaning(plan.promise), style="dim")]
    later = [sale for sale in plan.outlets if sale.on >= end]
    if later:
        wanted, expected, share = totals(later, yard.units)
        parts.append(
            Indented(
                f"{count_words(len(later), 'more sale')} to {day_words(later[-1].on)}: "
                f"{expected} of {wanted}{f' ({share})' if share else ''} expected.",
                style="dim",
            )
        )
    return parts


def _natural(plan: Plan, yard: Yard, end: date) -> list[RenderableType]:
    entries = [each for each in plan.natural if each.chance >= NATURAL_CHANCE and each.week < end]
    if not entries:
        return []
    likely = table(
        entries,
        (Column("Week of"), lambda entry: day_words(entry.week)),
        (Column("Stack"), lambda entry: entry.stack),
        (Column("Chance", "right"), lambda entry: percent_words(entry.chance)),
        (
            Column("If it comes", "right", aside="{} if it comes"),
            lambda entry: format_weight(entry.kg_if_it_comes, yard.units),
        ),
    )
    return [title("Natural flushes that may come"), likely, Indented(BEYOND_THREE_WEEKS)]


def _watering(plan: Plan) -> list[RenderableType]:
    if not plan.water:
        return []
    listing = table(
        plan.water,
        (Column("Day"), lambda entry: day_words(entry.on)),
        (Column("Stack"), lambda entry: entry.stack),
        (Column("Wet", "right"), lambda entry: share_words(entry.moisture_wet)),
        note=lambda entry: entry.reason,
    )
    return [title("Watering"), listing]


def _closing(plan: Plan, yard: Yard) -> Iterable[RenderableType]:
    wanted, expected, share = totals(plan.outlets, yard.units)
    if share:
        yield Indented(
            f"The outlets ask for {wanted}; {expected} ({share}) is expected to reach them, over "
            f"{count_words(plan.members, 'possible season')}.",
            by=0,
        )
    if gap := gap_words(plan):
        yield Indented(
            f"Proved within the model: no plan is better by more than {gap} of what is asked for.",
            by=0,
        )


def _job(job: Reminder, day: date) -> RenderableType:
    time = time_words(job.start) if isinstance(job.start, datetime) else ""
    until = until_words(job, day)
    lasts = f", {until}" if until else ""
    what = Indented(f"{job.summary}{lasts}", 9, "dim" if job.done else "", lead=f"  {time}")
    reasons = "; ".join(job.reasons)
    return Group(what, Indented(reasons, 9, "dim")) if reasons else what


def _not_this_week(plan: Plan, today: date, end: date) -> list[tuple[str, str]]:
    """Every stack without a soak this week, with its next soak, and why none now or at all.

    That the week has no soak day at all is said of all of them at once.
    """
    coming = plan.next_soaks(today)
    waits, no_day = plan.why_wait(today), ""
    if waits and all(entry.causes[:1] == ("soak day",) for entry in plan.waits):
        no_day = next(iter(waits.values())).split("; ")[0]
        waits = {name: why.removeprefix(no_day).removeprefix("; ") for name, why in waits.items()}
    later = {
        stack: "; ".join(filter(None, (f"next soak on {day_words(day)}", waits.get(stack))))
        for stack, day in coming.items()
        if day >= end
    }
    # What holds a stack now is plainer than why the whole season has no soak for it.
    held = {entry.stack for entry in plan.waits if entry.soak is None}
    reasons = {
        entry.stack: waits[entry.stack]
        if entry.stack in held and entry.stack in waits
        else entry.reason
        for entry in plan.not_soaked
        if entry.stack not in coming
    }
    others = {**later, **reasons}
    told = sorted((stack, why) for stack, why in others.items() if why)
    return [("All stacks", no_day), *told] if no_day else told
