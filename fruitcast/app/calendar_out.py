"""The calendar out of the yard: as a file, or onto a calendar server."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from pydantic import Field

from fruitcast.app.publication import CALENDAR, next_calendar, read_last_plan
from fruitcast.atomic import files_in_place
from fruitcast.diary.book import Diary
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.document import Document
from fruitcast.errors import CalendarServerError, InputError
from fruitcast.outputs.calendar_state import CalendarPushed, CalendarState
from fruitcast.outputs.ical import calendar_bytes
from fruitcast.words import count_words
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard

PUSHED = "pushed to"
"""Kind of document, with the address behind it, of what the last push left on a server."""


class CalendarWritten(Document):
    """What 'calendar --json' prints."""

    planned_on: date = Field(description="day of the plan that the calendar shows")
    file: str
    events: int
    cancelled_events: int
    push: CalendarPushed | None = Field(description="null without --push")


@dataclass(frozen=True)
class CalendarOut:
    """The calendar and where it went."""

    planned_on: date  # day of the plan that it shows
    calendar: CalendarState
    file: Path
    pushed: CalendarPushed | None = None  # what a push did
    notes: tuple[str, ...] = ()  # what the grower should know of the push

    def document(self) -> CalendarWritten:
        """Return what is printed as JSON."""
        cancelled = sum(event.cancelled_on is not None for event in self.calendar.events)
        return CalendarWritten(
            planned_on=self.planned_on,
            file=str(self.file),
            events=len(self.calendar.events) - cancelled,
            cancelled_events=cancelled,
            push=self.pushed,
        )

    def words(self) -> list[str]:
        """Return what was done, a sentence each."""
        found = [f"{count_words(self.document().events, 'event')} written to {self.file}."]
        if self.pushed is not None:
            pushed = self.pushed
            found.append(
                f"{pushed.address}: {len(pushed.created)} created, {len(pushed.updated)} updated, "
                f"{len(pushed.deleted)} deleted, {pushed.unchanged} left as they were."
            )
            found += [f"{conflict.words}." for conflict in pushed.conflicts]
        return found


def write_calendar(folder: Path, today: date, file: Path | None = None) -> CalendarOut:
    """Bring the calendar up to what the diary says now, keep it, and write it to a file.

    Without `file` it is calendar.ics in the yard's `out` folder. Raises InputError if no plan was
    published yet, or it cannot be read; OutputError if the file cannot be written.
    """
    yard = read_yard(folder, today)
    plan = read_last_plan(yard, today)
    if plan is None:
        raise InputError(
            f"{yard.folder}: no plan was published up to {today}, so there is no calendar. Make "
            "one with 'fruitcast plan'."
        )
    target = file or yard.out_folder / "calendar.ics"
    with Diary(yard.diary_file) as diary, diary.held(today) as commit:
        calendar = next_calendar(plan, yard, read_yard_state(yard, today), today)
        with files_in_place({target: calendar_bytes(calendar)}):
            diary.save_document(CALENDAR, today, calendar.to_json())
            commit()
    return CalendarOut(plan.today, calendar, target)


def push_calendar(
    folder: Path,
    today: date,
    address: str,
    user: str,
    password: str,
    *,
    file: Path | None = None,
    ca_file: Path | None = None,
    overwrite: bool = False,
) -> CalendarOut:
    """Write the calendar as `write_calendar` does, and bring a calendar server in step with it.

    `address` is the calendar's on the server, `user` and `password` who writes; `ca_file` holds
    certificates to trust besides the usual ones. With `overwrite` our version replaces what
    somebody else made of an event of ours. Raises CalendarServerError if the server refuses
    anything; what it took is kept.
    """
    from fruitcast.outputs.caldav import PushState, push
    from fruitcast.outputs.caldav_client import CalendarCollection

    collection = CalendarCollection(address, user, password, ca_file=ca_file)
    out = write_calendar(folder, today, file)
    yard: Yard = read_yard(folder, today)
    kind = f"{PUSHED} {collection.address}"
    with Diary(yard.diary_file) as diary:
        text = diary.latest_document(kind)
        known, notes = None, list[str]()
        try:
            known = PushState.from_json(text) if text else None
        except InputError as error:
            notes.append(str(error))  # the server itself tells as much

        def keep(state: PushState) -> None:
            diary.save_document(kind, today, state.json_text())

        report, after = push(out.calendar, collection, known, overwrite=overwrite, keep=keep)
        keep(after)
    if report.failed:
        written = len(report.created) + len(report.updated) + len(report.deleted)
        raise CalendarServerError(
            f"{collection.address}: {written} events were written, but not all. "
            + " ".join(report.failed)
        )
    return replace(out, notes=tuple(notes), pushed=report)
