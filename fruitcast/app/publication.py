"""Publishing a plan: the files in the yard's `out` folder, plan and calendar in its diary."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fruitcast.errors import InputError
from fruitcast.publish.calendar_state import CalendarState, update, yard_calendar
from fruitcast.publish.ical import calendar_bytes
from fruitcast.publish.plan_files import publish_plan
from fruitcast.publish.reminders import reminders
from fruitcast.yard import stacks, tables
from fruitcast.yard.diary import Diary
from fruitcast.yard.model import Yard
from fruitcast.yard.state import YardState
from fruitcast.yard.state_from_diary import PLAN

Document = dict[str, Any]

CALENDAR = "calendar"
"""Kind of document under which the calendar as last published is kept in the diary."""

INPUTS = "plan inputs"
"""Kind of document that tells what the plan of a day was made from."""


@dataclass(frozen=True)
class Published:
    """What a publication left behind.

    Attributes
    ----------
    files : tuple of Path
        The files written.
    calendar : CalendarState
        The calendar as it now stands.
    """

    files: tuple[Path, ...]
    calendar: CalendarState


def publish(
    document: Document, yard: Yard, state: YardState, today: date, inputs: str | None = None
) -> Published:
    """Write a plan's files, then keep the plan and its calendar in the diary.

    The files come first: they are what can fail, and then nothing has changed. Publishing the
    same plan again on the same day gives the same bytes.

    Parameters
    ----------
    document : dict
        The plan.
    yard : Yard
        The yard.
    state : YardState
        What its diary says.
    today : date
        Day of the plan.
    inputs : str or None
        Fingerprint of the yard when it was read for the plan; None takes the present one.

    Raises
    ------
    OutputError
        If a file cannot be written.
    InputError
        If the diary cannot be written.
    """
    calendar = next_calendar(document, yard, state, today)
    files = publish_plan(yard.out_folder, document, calendar_bytes(calendar))
    with Diary(yard.diary_file) as diary:
        diary.save_document(PLAN, today, json.dumps(document, ensure_ascii=False))
        diary.save_document(CALENDAR, today, calendar.to_json())
        diary.save_document(INPUTS, today, inputs or fingerprint(yard))
    return Published(files, calendar)


def next_calendar(document: Document, yard: Yard, state: YardState, today: date) -> CalendarState:
    """Return the calendar that follows the one last published; nothing is written."""
    with Diary(yard.diary_file) as diary:
        text = diary.latest_document(CALENDAR, as_of=today)
    before = yard_calendar(yard, CalendarState.from_json(text) if text else None)
    return update(before, reminders(document, yard, state), today, set(state.stacks))


def last_plan(yard: Yard, today: date) -> Document | None:
    """Return the plan last published up to a day, None when there is none.

    Raises
    ------
    InputError
        If what is kept is not a plan.
    """
    with Diary(yard.diary_file) as diary:
        text = diary.latest_document(PLAN, as_of=today)
    if text is None:
        return None
    try:
        document = json.loads(text)
        date.fromisoformat(document["today"])
    except (ValueError, KeyError, TypeError) as error:
        raise InputError(
            f"The published plan kept in the diary cannot be read ({error!r}). Publish a new one "
            "with 'fruitcast plan'."
        ) from error
    assert isinstance(document, dict)
    return document


def fresh_plan(yard: Yard, today: date) -> Document | None:
    """Return the plan published today, if yard, weather and diary are still as they were then."""
    document = last_plan(yard, today)
    if document is None or document["today"] != today.isoformat():
        return None
    with Diary(yard.diary_file) as diary:
        inputs = diary.latest_document(INPUTS, as_of=today)
    return document if inputs == fingerprint(yard) else None


def plan_to_go_by(yard: Yard, today: date) -> Document | None:
    """Return the published soaks that a new plan should keep where it can.

    That is the plan last published. Planning again from the very same inputs on the same day
    goes by what that plan itself went by, so that it comes out the same.

    Returns
    -------
    dict or None
        `soaks`, each with `stack` and `soak_on` in ISO; None when no plan was published before.
    """
    document = last_plan(yard, today)
    if document is None:
        return None
    if fresh_plan(yard, today) is not None:
        before: Document | None = document.get("goes_by")
        return before
    return {"soaks": [{"stack": s["stack"], "soak_on": s["soak_on"]} for s in document["soaks"]]}


def fingerprint(yard: Yard) -> str:
    """Return what changes whenever the yard's files or its diary do."""
    digest = hashlib.sha256()
    files = (yard.folder / tables.FILE, yard.folder / stacks.FILE, yard.weather.file)
    for file in files:
        content = file.read_bytes() if file is not None and file.is_file() else b""
        digest.update(hashlib.sha256(content).digest())
    with Diary(yard.diary_file) as diary:
        digest.update(str(diary.last_entry()).encode())
    return digest.hexdigest()
