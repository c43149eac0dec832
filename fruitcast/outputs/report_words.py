"""A report in sentences and rows, and the week's jobs as a sheet to tick off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from fruitcast.diary.plan import Plan, Sale, Shortage
from fruitcast.diary.state import StackState, YardState
from fruitcast.outputs.plan_words import stacks_words
from fruitcast.outputs.reminder import Reminder, until_words
from fruitcast.outputs.reminders import ASKED, reminders
from fruitcast.outputs.report_data import (
    MoistureCourse,
    Strip,
    StripRow,
    WeatherCourse,
    dry_courses,
    probably_dry,
)
from fruitcast.outputs.report_parts import WordTable
from fruitcast.outputs.week import (
    WEEK_DAYS,
    natural_words,
    promised_in_full,
    sale_cells,
    sale_words,
    told_together,
    totals,
    week_ahead,
    why_words,
    work_lines,
)
from fruitcast.topics import StrainClass, StrainRange
from fruitcast.units import (
    UNKNOWN,
    Units,
    format_rain,
    format_sale_weight,
    format_temperature,
    format_weight,
)
from fruitcast.words import (
    BEYOND_THREE_WEEKS,
    LIKELY,
    NATURAL_CHANCE,
    capital,
    clean_line,
    comes_words,
    count_words,
    dated_words,
    day_words,
    percent_words,
    span_words,
    time_words,
)
from fruitcast.yard.model import Yard

LISTED = 3
"""Days, soaks or stacks that a sentence names at most."""


def supply_text(sales: Sequence[Sale], promise: float, units: Units) -> tuple[str, ...]:
    """Return what the supply of one outlet looks like."""
    wanted, expected, share = totals(sales, units)
    short = [sale for sale in sales if not promised_in_full(sale, units)]
    found = [
        f"{count_words(len(sales), 'sale')} from {day_words(sales[0].on)} to "
        f"{day_words(sales[-1].on)}: {wanted} wanted, "
        f"{expected}{f' ({share})' if share else ''} expected to be delivered."
    ]
    full = len(sales) - len(short)
    found.append(
        f"The full amount can be promised on {full} of {len(sales)}, with a chance of "
        f"{percent_words(promise)} or more."
    )
    if short:
        worst = sorted(short, key=lambda s: (s.promise_kg / s.target_kg, s.on))[:LISTED]
        listed = "; ".join(
            f"{day_words(s.on)}: {format_sale_weight(s.promise_kg, units)} of "
            f"{format_weight(s.target_kg, units)}"
            for s in worst
        )
        found.append(f"Least can be promised on {listed}.")
    told = "; ".join(
        f"{format_weight(sale.given_kg, units)} for {day_words(sale.on)}"
        for sale in sales
        if sale.given_kg
    )
    if told:
        found.append(f"Promised already: {told}.")
    return tuple(found)


def supply_table(sales: Sequence[Sale], units: Units) -> WordTable:
    """Return one row for each sale; what was promised has a column where anything was."""
    given = any(sale.given_kg for sale in sales)
    rows = tuple(
        (
            *(of.day, of.wanted, of.promise),
            *((of.given,) if given else ()),
            *(of.chance, of.likely, of.expected),
        )
        for of in (sale_cells(sale, units) for sale in sales)
    )
    promised = ("Promised",) if given else ()
    amounts = ("All of it", "Likely amount", "Likely on average")
    return WordTable(("Day", "Wanted", "Can promise", *promised, *amounts), rows)


def order_lines(orders: Sequence[Sale], units: Units) -> tuple[str, ...]:
    """Return a line for each sale of a single day: too little for a figure."""
    return tuple(
        f"{day_words(sale.on)}: {sale_words(sale, units)} (all of it: "
        f"{percent_words(sale.chance)}); likely amount {sale_cells(sale, units).likely}."
        for sale in orders
    )


MORE_THAN_ONE = (
    "Logs may flush by themselves more than once in a season, so the chances of one stack's weeks "
    "may add up to more than 100%."
)


def season_text(plan: Plan, strip: Strip, short: Sequence[Shortage]) -> tuple[str, ...]:
    """Return what the season holds, and what stands in the way of more."""
    soaks = plan.soaks
    found = [f"{count_words(len(soaks), 'soak')} planned to {dated_words(strip.last)}."]
    if soaks:
        listed = "; ".join(
            f"{clean_line(soak.stack)} on {day_words(soak.soak_on)}" for soak in soaks[:LISTED]
        )
        found.append(f"Next: {listed}.")
    young = [row.stack for row in strip.rows if row.ready is not None]
    if young:
        found.append(f"In the spawn run: {', '.join(map(clean_line, young))}.")
    if any(row.natural for row in strip.rows):
        found.append(BEYOND_THREE_WEEKS)
    if any(sum(chance for _, chance in row.natural) > 1 for row in strip.rows):
        found.append(MORE_THAN_ONE)
    causes: dict[str, int] = {}
    for entry in short:
        causes[entry.reason] = causes.get(entry.reason, 0) + 1
    if causes:
        listed = "; ".join(f"{count_words(n, 'sale')}: {reason}" for reason, n in causes.items())
        found.append(f"Why sales go short: {listed}.")
    return tuple(found)


def season_table(plan: Plan, strip: Strip, units: Units) -> WordTable:
    """Return one row for each stack: soaks, picks, natural chances, what holds it back."""
    alone = {entry.stack: entry.reason for entry in plan.not_soaked}
    waits = plan.why_wait(strip.today)
    rows = tuple(
        (
            clean_line(row.stack),
            row.strain_class,
            "\n".join(_soak_lines(row)),
            "\n".join(_pick_lines(row, units)),
            "\n".join(
                f"week of {day_words(day)}: {percent_words(chance)}" for day, chance in row.natural
            ),
            "\n".join(_hold_lines(row, strip, waits.get(row.stack, ""), alone.get(row.stack, ""))),
        )
        for row in strip.rows
    )
    return WordTable(
        (
            "Stack",
            "Class",
            "Soak to pull",
            "First pick, 8 of 10",
            "A flush by itself begins",
            "Waits for",
        ),
        rows,
    )


def _soak_lines(row: StripRow) -> Iterator[str]:
    for soak in row.soaks:
        done = " (done)" if soak.done else ""
        yield f"{day_words(soak.on)} to {day_words(soak.pull_on)}{done}"


def _pick_lines(row: StripRow, units: Units) -> Iterator[str]:
    if row.picked:
        yield f"picked {', '.join(day_words(day) for day in row.picked)}"
    for soak in row.soaks:
        if soak.window is not None:
            first, likely, last = soak.window
            comes = comes_words(soak.comes)
            yield (
                f"{day_words(likely)} ({span_words(first, last)}), "
                f"{format_weight(soak.expected_kg, units)}{f'; {comes}' if comes else ''}"
            )


def _hold_lines(row: StripRow, strip: Strip, wait: str, alone: str) -> Iterator[str]:
    """Yield what holds a stack back: dates, why no soak this week, why none in these weeks."""
    if row.ready is not None:
        early, likely, _ = row.ready
        if likely is not None and "spawn run" not in wait:
            yield f"spawn run, most likely done by {day_words(likely, strip.today)}"
        elif likely is None and early is not None and early > strip.today:
            yield f"spawn run, done on {day_words(early, strip.today)} at the earliest"
    for span in row.spans:
        if span.kind == "first year" and "first year" not in wait:
            yield f"a full year on {day_words(span.past, strip.today)}"
        elif (
            span.kind == "rest"
            and span.first <= strip.today < span.past
            and "rests until" not in wait
        ):
            yield f"rested on {day_words(span.past, strip.today)}"
    if wait:
        yield f"not this week: {clean_line(wait)}"
    if alone and alone not in wait:
        yield f"not in these weeks: {clean_line(alone)}" if wait else clean_line(alone)


def moisture_text(courses: Sequence[MoistureCourse], plan: Plan) -> tuple[str, ...]:
    """Return how wet the logs are and which want water."""
    now = {course.stack: float(course.wet[-1]) for course in courses if len(course.wet)}
    known = sorted((wet, stack) for stack, wet in now.items() if np.isfinite(wet))
    found = []
    if known:
        listed = ", ".join(
            f"{clean_line(stack)} {percent_words(wet)}" for wet, stack in known[:LISTED]
        )
        found.append(f"Driest now: {listed} (water over whole weight).")
    due = [
        f"{clean_line(entry.stack)} on {day_words(entry.on)} ({clean_line(entry.reason)})"
        for entry in plan.water
    ]
    likely = probably_dry(plan)
    last = {entry.stack: entry for entry in plan.water_chance}
    soon = ", ".join(
        f"{clean_line(stack)} by {day_words(entry.by)}" for stack, entry in likely.items()
    )
    if due:
        found.append(f"Water: {'; '.join(due)}.")
        found += [f"Probably next: {soon}."] if soon else []
    else:
        probably = f"; these probably will: {soon}" if soon else ""
        found.append(f"No stack needs water yet{probably}.")
    perhaps = ", ".join(
        f"{clean_line(stack)} by {day_words(entry.by)} ({percent_words(entry.chance)})"
        for stack, entry in last.items()
        if stack not in likely
    )
    found += [f"Perhaps: {perhaps}."] if perhaps else []
    dry = {course.stack for course in dry_courses(courses, plan)}
    moist = {stack: wet for wet, stack in known if stack not in dry}
    if moist:
        many = stacks_words(moist, now)
        others, wet = f"{'The other' if dry else 'All'} {many}", tuple(moist.values())
        found.append(
            f"{others} {'is' if many in ('1 stack', '1 lot') else 'are'} moist enough, "
            f"{_range(percent_words(wet[0]), percent_words(wet[-1]))}."
        )
    return tuple(found)


def _range(low: str, high: str) -> str:
    """Return a range in words, one value where both ends read the same."""
    return low if low == high else f"{low} to {high}"


def moisture_table(courses: Sequence[MoistureCourse]) -> WordTable:
    """Return one row for each stack: moisture every four weeks, and what was done."""
    if not courses:
        return WordTable(("Stack",), ())
    last = courses[0].today - timedelta(days=1)
    first = courses[0].first
    back = [last - timedelta(weeks=weeks) for weeks in (8, 4, 0)]
    days = [first, *(day for day in back if day > first)]
    rows = []
    for course in courses:
        done = [*((on, f"watered {day_words(on)}") for on, _ in course.watered)]
        done += [(on, f"water assumed {day_words(on)}") for on, _ in course.assumed]
        done += [(on, f"soaked {day_words(on)}") for on in course.soaked]
        done += [
            (on, f"weighed {day_words(on)}: {percent_words(wet)}") for on, wet in course.weighed
        ]
        rows.append(
            (
                clean_line(course.stack),
                *(_wet(course.wet_on(day)) for day in days),
                "\n".join(words for _, words in sorted(done)),
            )
        )
    return WordTable(("Stack", *(day_words(day) for day in days), "Done"), tuple(rows))


def temperature_text(
    course: WeatherCourse, ranges: Mapping[StrainClass, StrainRange], units: Units
) -> tuple[str, ...]:
    """Return how warm it has been, what is forecast, and at what each class fruits."""
    past = (course.today - course.first).days
    found = []
    if past >= 7:
        weekly_mean = float(course.tmean[past - 7 : past].mean())
        found.append(f"The last 7 days had {format_temperature(weekly_mean, units)} on average.")
    if course.forecast_days:
        coming = course.tmean[past:]
        found.append(
            f"Forecast for {count_words(course.forecast_days, 'day')}: "
            f"{format_temperature(float(coming.min()), units)} to "
            f"{format_temperature(float(coming.max()), units)} (daily means)."
        )
    else:
        found.append("No forecast is used: what comes is taken from past years alone.")
    if course.filled.any():
        found.append(
            f"Put in where the record has gaps: {count_words(int(course.filled.sum()), 'day')}."
        )
    found += [
        f"{name.capitalize()} logs fruit at "
        f"{format_temperature(known.lower, units)} to {format_temperature(known.upper, units)}, "
        f"best at {format_temperature(known.best_low, units)} to "
        f"{format_temperature(known.best_high, units)}."
        for name, known in ranges.items()
    ]
    return tuple(found)


def temperature_table(
    course: WeatherCourse, ranges: Mapping[StrainClass, StrainRange], units: Units
) -> WordTable:
    """Return one row for each week: temperature, and the classes that it suits."""
    rows = []
    for week in range(len(course.rain)):
        weekly_mean = float(course.tmean[7 * week : 7 * week + 7].mean())
        rows.append(
            (
                day_words(course.first + timedelta(weeks=week)),
                format_temperature(weekly_mean, units),
                _suits(weekly_mean, ranges),
            )
        )
    for week, (low, middle, high) in enumerate(course.fan_tmean.T):
        rows.append(
            (
                day_words(course.today + timedelta(weeks=week)),
                f"{format_temperature(float(low), units)} to "
                f"{format_temperature(float(high), units)}",
                _suits(float(middle), ranges),
            )
        )
    return WordTable(("Week from", "Mean, or 8 of 10 years", "Suits"), tuple(rows))


def rain_text(course: WeatherCourse, units: Units) -> tuple[str, ...]:
    """Return how much rain fell and what past years had in the weeks to come."""
    found = []
    if len(course.rain):
        listed = [f"{format_rain(float(course.rain[-1]), units)} fell in the last 7 days"]
        if len(course.rain) > 1:
            total = format_rain(float(course.rain.sum()), units)
            listed.append(f"{total} in {count_words(len(course.rain), 'week')}")
        found.append(f"{', '.join(listed)}.")
    dry, middle, wet = (format_rain(float(edge), units) for edge in course.fan_rain[:, 0])
    found.append(f"The coming week: {dry} to {wet} in 8 of 10 years, {middle} in the middle one.")
    return tuple(found)


def rain_table(course: WeatherCourse, units: Units) -> WordTable:
    """Return one row for each week: rain fallen, or what past years had."""
    rows = [
        (day_words(course.first + timedelta(weeks=week)), format_rain(float(rain), units), "")
        for week, rain in enumerate(course.rain)
    ]
    rows += [
        (
            day_words(course.today + timedelta(weeks=week)),
            f"{format_rain(float(dry), units)} to {format_rain(float(wet), units)}",
            format_rain(float(middle), units),
        )
        for week, (dry, middle, wet) in enumerate(course.fan_rain.T)
    ]
    return WordTable(("Week from", "Rain, or 8 of 10 years", "Middle year"), tuple(rows))


def _suits(celsius: float, ranges: Mapping[StrainClass, StrainRange]) -> str:
    names = []
    for name, known in ranges.items():
        if known.best_low <= celsius <= known.best_high:
            names.append(f"{name} (best)")
        elif known.lower <= celsius <= known.upper:
            names.append(name)
    return "\n".join(names) or "none"


def _wet(share: float) -> str:
    return percent_words(share) if np.isfinite(share) else UNKNOWN


# The week's jobs as a sheet to tick off and fill in.

SPARE_LINES = 2
"""Empty lines for what nobody expected."""

_BLANKS = {"weigh": {"us": "lb", "metric": "kg"}, "water": {"us": "in", "metric": "mm"}}
"""Units of what is written down beside a job."""

_WRITE_DOWN = {"inspect": "found", "retire": "logs"}
"""What is written down beside a job when it is no weight and no depth."""


@dataclass(frozen=True)
class SheetJob:
    """One job."""

    at: str  # time of day; empty when any will do
    words: str  # what to do
    until: str  # last day in words, empty for a job of one day
    reasons: tuple[str, ...]
    done: bool  # whether the diary has it already
    blank: str  # what to write down, with its unit; empty when a tick is enough


@dataclass(frozen=True)
class PickLine:
    """A line to write weights on."""

    stack: str  # stack or lot; empty for a spare line
    expected: tuple[bool, ...]  # for each day of the week, whether a pick may fall on it


@dataclass(frozen=True)
class WeekSheet:
    """The week from today."""

    days: tuple[date, ...]
    overdue: tuple[SheetJob, ...]  # what should have been done before
    jobs: tuple[tuple[date, tuple[SheetJob, ...]], ...]  # by day
    picks: tuple[PickLine, ...]  # lines to write weights on
    natural: tuple[str, ...]  # flushes that may come by themselves, this week and the next two
    sales: tuple[Sale, ...]  # the plan's `outlets` of these days
    work: tuple[str, ...]  # what picking takes, and which days have too much work


def week_sheet(plan: Plan, yard: Yard, state: YardState, today: date) -> WeekSheet:
    """Return the sheet of the 7 days from today."""
    listed = reminders(plan, yard, state)
    found = week_ahead(_in_short(listed, plan, yard.units), today)
    days = tuple(day for day, _ in found.days)
    return WeekSheet(
        days,
        tuple(_job(job, today, yard.units) for job in found.overdue),
        tuple(
            (
                day,
                tuple(
                    _job(job, day, yard.units)
                    for job in _together(told_together(jobs, plan, yard.units))
                ),
            )
            for day, jobs in found.days
        ),
        tuple(_lines_to_fill_in(plan, state, listed, days)),
        tuple(f"{capital(line)}." for line in natural_words(plan, yard.units, today)),
        tuple(sale for sale in plan.outlets if sale.on in days),
        work_lines(plan, today),
    )


def _in_short(listed: Iterable[Reminder], plan: Plan, units: Units) -> Iterator[Reminder]:
    """Yield jobs, a planned soak with its reason in one line: the sheet is for the shed door."""
    soaks = {(soak.stack, soak.soak_on): soak for soak in plan.soaks}
    for job in listed:
        soak = soaks.get((job.stack, job.first_day)) if job.kind == "soak" else None
        yield replace(job, reasons=(why_words(soak, units),)) if soak else job


def _job(job: Reminder, day: date, units: Units) -> SheetJob:
    at = time_words(job.start) if isinstance(job.start, datetime) else ""
    blank = "" if job.done else _BLANKS.get(job.kind, {}).get(units, _WRITE_DOWN.get(job.kind, ""))
    return SheetJob(at, job.summary, until_words(job, day), job.reasons, job.done, blank)


def _together(jobs: Iterable[Reminder]) -> Iterator[Reminder]:
    """Yield jobs, as one what is asked of several stacks on the same days for the same reason."""
    alike: dict[tuple[str, date, tuple[str, ...]], list[Reminder]] = {}
    for job in jobs:
        if job.kind in ASKED and job.kind != "cover":
            alike.setdefault((job.kind, job.last_day, job.reasons), []).append(job)
        else:
            yield job
    for (kind, _, _), listed in alike.items():
        stacks = ", ".join(clean_line(job.stack) for job in listed)
        yield replace(listed[0], summary=ASKED[kind].format(stacks))


def _picked_lately(stack: StackState, today: date) -> bool:
    """Return whether a last few may still be picked, though the flush is taken to be over."""
    return bool(stack.picks) and (today - stack.picks[-1].on).days <= WEEK_DAYS


def _lines_to_fill_in(
    plan: Plan, state: YardState, listed: Sequence[Reminder], days: tuple[date, ...]
) -> Iterator[PickLine]:
    """Return a line for each stack that may be picked this week, then spare ones."""
    spans: dict[str, list[tuple[date, date]]] = {}
    may = {name for name, stack in state.stacks.items() if _picked_lately(stack, days[0])}
    for job in listed:
        if job.kind in ("pick", "picking") and not job.done:
            # The window is that of the first pick; a flush goes on for some days.
            spans.setdefault(job.stack, []).append((job.first_day, job.last_day))
    for entry in plan.natural:
        monday, sunday = entry.week, entry.week + timedelta(days=6)
        if entry.chance >= LIKELY:
            spans.setdefault(entry.stack, []).append((monday, sunday))
        elif entry.chance >= NATURAL_CHANCE and monday <= days[-1] and sunday >= days[0]:
            may.add(entry.stack)
    for name, stack in state.stacks.items():
        if stack.fruiting_on or stack.pins_on:
            may.add(name)
            # Seen since the plan was made, it has no days there yet.
            spans.setdefault(name, [(days[0], days[-1])])
    for name in state.stacks:
        expected = tuple(
            any(first <= day <= last for first, last in spans.get(name, ())) for day in days
        )
        if any(expected) or name in may:
            yield PickLine(clean_line(name), expected)
    for _ in range(SPARE_LINES):
        yield PickLine("", (False,) * len(days))
