"""Publishing a plan: its files, itself and its calendar in the diary; how well it came true."""

from __future__ import annotations

import hashlib
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from fruitcast import __version__
from fruitcast.atomic import check_writable, files_in_place
from fruitcast.diary.book import Diary
from fruitcast.diary.kept_plan import PLAN, DamagedPlanError, kept_plan
from fruitcast.diary.plan import GoesBy, Plan, Sale
from fruitcast.diary.state import YardState
from fruitcast.diary.tables import write_rows
from fruitcast.errors import InputError
from fruitcast.units import KG_PER_LB, Units
from fruitcast.words import clean_line
from fruitcast.yard import keys, stacks
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard

if TYPE_CHECKING:
    from fruitcast.app.changed_model import Before
    from fruitcast.forecast.outcome_scores import Foretelling
    from fruitcast.outputs.calendar_state import CalendarState


# The files of a published plan: plan.csv, plan.json and calendar.ics.

PLAN_COLUMNS: dict[str, str] = {
    "stack": "stack or lot",
    "logs": "logs to soak",
    "soak_on": "day the logs go into the tank",
    "hours": "hours in water",
    "pull_on": "day they come out, at the yard's soak time",
    "pick_p10": "first pick: one weather year in ten is earlier",
    "pick_p50": "first pick: half of the weather years are earlier",
    "pick_p90": "first pick: one weather year in ten is later",
    "expected_kg": "forced crop before losses, mean over the weather years, in kg",
    "expected_lb": "the same in pounds",
    "reasons": "why, separated by semicolons",
}
"""The columns of plan.csv, one row for each soak in order of day, and what they hold."""


def plan_csv(plan: Plan) -> bytes:
    """Return the soaks of a plan as CSV (RFC 4180, UTF-8) with the columns `PLAN_COLUMNS`."""
    rows = [
        (
            clean_line(soak.stack),
            soak.logs,
            soak.soak_on,
            round(soak.hours, 2),
            soak.pull_on,
            soak.pick.p10,
            soak.pick.p50,
            soak.pick.p90,
            round(soak.expected_kg, 3),
            round(soak.expected_kg / KG_PER_LB, 3),
            "; ".join(clean_line(reason) for reason in soak.reasons),
        )
        for soak in sorted(plan.soaks, key=lambda soak: (soak.soak_on, soak.stack))
    ]
    return write_rows(tuple(PLAN_COLUMNS), rows).encode()


def plan_files(folder: Path, plan: Plan, calendar: bytes) -> dict[Path, bytes]:
    """Return what belongs into plan.csv, plan.json and calendar.ics of a folder."""
    return {
        folder / "plan.csv": plan_csv(plan),
        folder / "plan.json": plan.json_file(),
        folder / "calendar.ics": calendar,
    }


# Commands that only look at the plan make no calendar and ask for no model: what those need is
# loaded where it is used.

CALENDAR = "calendar"
"""Kind of document under which the calendar as last published is kept in the diary."""

INPUTS = "plan inputs"
"""Kind of document that tells what the plan of a day was made from."""


def publish(
    plan: Plan, yard: Yard, state: YardState, today: date, inputs: str | None = None
) -> tuple[Path, ...]:
    """Write a plan's files, keep the plan and its calendar in the diary, and return the files.

    Files and diary change together or not at all, and one publication after another: of two
    plans at once the later one stands whole. A program stopped midway leaves whole files, and
    the next publication brings them in step. Publishing the same plan again on the same day
    gives the same bytes.

    `inputs` is the yard's fingerprint when it was read for the plan; None takes the present one.
    Raises OutputError if a file cannot be written; InputError if the diary cannot be written.
    """
    from fruitcast.app.changed_model import MODEL, model_of, numbers_of
    from fruitcast.outputs.ical import calendar_bytes

    check_writable(yard.out_folder / "plan.json")
    inputs = inputs or fingerprint(yard)
    with Diary(yard.diary_file) as diary, diary.held(today) as commit:
        calendar = next_calendar(plan, yard, state, today)
        files = plan_files(yard.out_folder, plan, calendar_bytes(calendar))
        with files_in_place(files):
            diary.save_documents(
                today,
                {
                    PLAN: plan.json_text(),
                    CALENDAR: calendar.to_json(),
                    INPUTS: inputs,
                    MODEL: model_of(numbers_of(yard).entries()).json_text(),
                },
            )
            commit()
    return tuple(files)


def next_calendar(plan: Plan, yard: Yard, state: YardState, today: date) -> CalendarState:
    """Return the calendar that follows the one last published; nothing is written.

    That is the last whatever day it bears: phones have seen it, so no event may fall behind it
    because a clock was set back.
    """
    from fruitcast.outputs.calendar_state import update, yard_calendar
    from fruitcast.outputs.reminders import reminders

    with Diary(yard.diary_file) as diary:
        before = yard_calendar(yard, last_calendar(diary))
    return update(before, reminders(plan, yard, state), today, set(state.stacks))


def last_calendar(diary: Diary) -> CalendarState | None:
    """Return the calendar last published that can be read, None when none was published.

    Raises InputError if none of those kept can be read.
    """
    from fruitcast.outputs.calendar_state import CalendarState

    damaged: InputError | None = None
    for text in diary.documents(CALENDAR):
        try:
            return CalendarState.from_json(text)
        except InputError as error:
            damaged = damaged or error
    if damaged is not None:
        raise damaged
    return None


def read_last_plan(yard: Yard, today: date) -> Plan | None:
    """Return the plan last published up to a day, None when there is none.

    Raises InputError if what is kept is not a plan.
    """
    with Diary(yard.diary_file) as diary:
        text = diary.latest_document(PLAN, as_of=today)
    return None if text is None else kept_plan(text)


def last_plan(yard: Yard, today: date) -> Plan | None:
    """Return the plan last published up to a day, None when there is none that can be read.

    Where a new plan can be made, one that cannot be read must not stand in its way.
    """
    try:
        return read_last_plan(yard, today)
    except DamagedPlanError:
        return None


def sale_in(plan: Plan | None, outlet: str, on: date | None) -> Sale | None:
    """Return what a plan says of an outlet's day, None where it says nothing."""
    sales = plan.outlets if plan else ()
    return next((sale for sale in sales if (sale.outlet, sale.on) == (outlet, on)), None)


def fresh_plan(yard: Yard, today: date) -> Plan | None:
    """Return the plan published today, if yard, weather and diary are still as they were then."""
    plan = last_plan(yard, today)
    return plan if plan is not None and is_fresh(plan, yard, today) else None


def is_fresh(plan: Plan, yard: Yard, today: date) -> bool:
    """Return whether a plan is of today, and yard, weather and diary are still as they were."""
    if plan.today != today:
        return False
    with Diary(yard.diary_file) as diary:
        return diary.latest_document(INPUTS, as_of=today) == fingerprint(yard)


def plan_to_go_by(yard: Yard, today: date) -> GoesBy | None:
    """Return the published soaks that a new plan should keep where it can.

    That is the plan last published. Planning again from the very same inputs on the same day
    goes by what that plan itself went by, so that it comes out the same.

    None when no plan was published before. Raises DamagedPlanError if what is kept is not a plan.
    """
    plan = read_last_plan(yard, today)
    if plan is None:
        return None
    return plan.goes_by if is_fresh(plan, yard, today) else plan.kept_dates()


def plan_before(yard: Yard, today: date) -> Before | None:
    """Return the plan last published with the model it was made by, None without either."""
    from fruitcast.app.changed_model import MODEL, Before, kept_model

    plan = last_plan(yard, today)
    if plan is None:
        return None
    with Diary(yard.diary_file) as diary:
        model = kept_model(diary.latest_document(MODEL, as_of=today))
    if model is None:
        return None
    return Before(plan, model, is_fresh(plan, yard, today))


def fingerprint(yard: Yard) -> str:
    """Return what changes whenever the yard's files, its diary or the program do."""
    digest = hashlib.sha256(__version__.encode())
    files = (yard.folder / keys.FILE, yard.folder / stacks.FILE, yard.weather.file)
    for file in files:
        content = file.read_bytes() if file is not None and file.is_file() else b""
        digest.update(hashlib.sha256(content).digest())
    with Diary(yard.diary_file) as diary:
        digest.update(str(diary.last_entry()).encode())
    return digest.hexdigest()


# What became of what the published plans foretold.


def how_well_foretold(folder: Path, today: date) -> tuple[Foretelling, Units]:
    """Return how well what was foretold came true up to a day, and the yard's units.

    Raises InputError if the yard or its diary cannot be read.
    """
    yard = read_yard(folder, today)
    return foretelling(yard, today, last_plan(yard, today)), yard.units


def foretelling(yard: Yard, today: date, plan: Plan | None) -> Foretelling:
    """Return the same of a yard that was read, beside what a plan has learned of its yields."""
    from fruitcast.app.changed_model import numbers_of
    from fruitcast.forecast.outcome_scores import scored
    from fruitcast.forecast.outcomes import outcomes

    with Diary(yard.diary_file) as diary:
        told, events = diary.foretold(), diary.events()
    told = tuple(row for row in told if row[0] <= today)
    return scored(outcomes(told, yard, events, today, numbers_of(yard)), today, plan)
