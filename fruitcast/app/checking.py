"""Every fault in a yard's files, weather and diary, with place and remedy."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import ClassVar

from pydantic import Field

from fruitcast.app.changed_model import numbers_of
from fruitcast.app.doubts import WEATHER_DOUBTED, doubt_of_clock, doubts
from fruitcast.app.known import horizon_days, read_weather
from fruitcast.app.publication import fresh_plan
from fruitcast.diary.book import Diary
from fruitcast.diary.events import UNDO, cancelled_entries
from fruitcast.diary.state import YardState
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.document import Document, Sparse
from fruitcast.errors import Fault, FaultsError, FruitcastError
from fruitcast.numbers import Number, default_numbers
from fruitcast.tables.text import read_text
from fruitcast.tables.values import WrongValueError
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.words import count_words
from fruitcast.yard import keys
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard, yard_faults
from fruitcast.yard.settings import parse_settings
from fruitcast.yard.stacks import tree_notes


class CheckedYard(Sparse):
    """What 'check --json' prints; what could not be read is left out."""

    left_out: ClassVar[frozenset[str]] = frozenset(
        {
            *("name", "stacks", "logs", "diary_entries"),
            *("weather_first", "weather_last", "weather_years"),
        }
    )

    folder: str
    sound: bool = Field(description="whether a plan can be made")
    faults: tuple[Fault, ...] = Field(description="what must be mended")
    errors: tuple[str, ...] = Field(description="what else stands in the way of a plan")
    warnings: tuple[str, ...] = Field(description="what was read all the same, and how")
    name: str | None
    stacks: int | None
    logs: int | None
    diary_entries: int | None = Field(description="those in force")
    weather_first: date | None
    weather_last: date | None
    weather_years: int | None = Field(description="past years to plan from")


class NumbersListed(Document):
    """What 'check --numbers --json' prints."""

    numbers: tuple[Number, ...]


@dataclass
class Checked:
    """What a check found."""

    folder: Path
    faults: list[Fault] = field(default_factory=list)  # what must be mended, by place
    errors: list[str] = field(default_factory=list)  # what else stands in the way of a plan
    # What was read all the same, and how it was taken.
    warnings: list[str] = field(default_factory=list)
    name: str | None = None  # here and below None is what cannot be read
    stacks: int | None = None
    logs: int | None = None
    diary_entries: int | None = None  # only those in force
    weather_first: date | None = None
    weather_last: date | None = None
    weather_years: int | None = None  # past years to plan from

    @property
    def sound(self) -> bool:
        """Whether a plan can be made."""
        return not self.faults and not self.errors

    def found(self, error: FruitcastError) -> None:
        """Note what an error says."""
        if isinstance(error, FaultsError):
            self.faults.extend(error.faults)
        else:
            self.errors.append(str(error))

    def document(self) -> CheckedYard:
        """Return what is printed as JSON."""
        return CheckedYard.taken_from(
            self,
            folder=str(self.folder),
            faults=tuple(self.faults),
            errors=tuple(self.errors),
            warnings=tuple(dict.fromkeys(self.warnings)),
        )

    def words(self) -> list[str]:
        """Return what there is, for a yard that is sound."""
        return [
            f"{self.name}: {count_words(self.stacks or 0, 'stack')}, "
            f"{count_words(self.logs or 0, 'log')}.",
            f"Weather from {self.weather_first} to {self.weather_last}, "
            f"{count_words(self.weather_years or 0, 'past year')} to plan from.",
            f"Entries of the diary in force: {self.diary_entries}.",
            "No faults found. 'fruitcast plan' plans.",
        ]


def check_yard(folder: Path, today: date, *, fetching: Fetching = AS_USUAL) -> Checked:
    """Return all that is wrong in a yard, looking on past the first fault.

    Raises InputError if the folder is no yard.
    """
    checked = Checked(folder.expanduser().absolute())
    checked.faults.extend(yard_faults(folder, today))
    yard = _settings(checked.folder) if checked.faults else read_yard(folder, today)
    if yard is None:
        return checked
    checked.warnings.extend(yard.warnings)
    checked.name = yard.name
    if not checked.faults:
        checked.stacks = len(yard.stacks)
        checked.logs = sum(stack.logs for stack in yard.stacks)
        trees = [*(stack.tree for stack in yard.stacks), *(wood.tree for wood in yard.woods)]
        checked.warnings.extend(tree_notes(trees, numbers_of(yard).trees))
    state = _check_diary(yard, today, fetching.now, checked)
    _check_weather(yard, state, today, checked, fetching)
    if checked.sound:
        # Some things are only seen by planning: picks that can hardly be right, for one.
        plan = fresh_plan(yard, today)
        told = plan.warnings if plan else ()
        checked.warnings.extend(note for note in told if not note.startswith(WEATHER_DOUBTED))
    return checked


def _settings(folder: Path) -> Yard | None:
    """Return the yard without its stacks, if its settings are right."""
    try:
        return parse_settings(read_text(folder / keys.FILE), folder)[0]
    except WrongValueError:
        return None


def _check_diary(
    yard: Yard, today: date, now: datetime | None, checked: Checked
) -> YardState | None:
    """Check the diary; return what it says, None when it cannot be read."""
    try:
        with Diary(yard.diary_file) as diary:
            diary.check()
            events = diary.events()
            cancelled = cancelled_entries(events)
            checked.diary_entries = sum(
                event.kind != UNDO and event.uuid not in cancelled for event in events
            )
        state = read_yard_state(yard, today)
    except FruitcastError as error:
        checked.found(error)
        return None
    checked.warnings.extend(doubt_of_clock(yard, now))
    if yard.stacks:
        checked.warnings.extend(state.notes)
    return state


def _check_weather(
    yard: Yard, state: YardState | None, today: date, checked: Checked, fetching: Fetching
) -> None:
    from fruitcast.weather.known import known_weather

    try:
        weather = read_weather(yard, today, fetching=fetching)
        checked.weather_first = weather.start
        checked.weather_last = weather.end
        ahead = horizon_days()
        gauge = state.rain_gauge if state else {}
        known, years = known_weather(weather, today, ahead, gauge)
    except FruitcastError as error:
        checked.found(error)
        return
    years = years[-yard.weather.years :]
    checked.weather_years = len(years)
    checked.warnings.extend(known.notes)
    if state is not None:
        numbers = numbers_of(yard)
        found = doubts(yard, state, known, years, today, ahead, numbers, checking=True)
        checked.warnings.extend(found)


def numbers_in_use(folder: Path) -> tuple[Number, ...]:
    """Return every number of the model, the yard's own in place where they are right.

    Those that plans hang on most, for which growers can find their own, stand first.
    Without a yard, or with settings that cannot be read, they are the numbers as shipped.
    """
    folder = folder.expanduser().absolute()
    yard = _settings(folder) if (folder / keys.FILE).is_file() else None
    listed = (numbers_of(yard) if yard else default_numbers()).entries()
    return tuple(sorted(listed, key=lambda number: not number.find))
