"""Published documents in the diary, and what each plan foretold; a damaged one counts for none."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterator
from dataclasses import astuple, dataclass
from datetime import date, timedelta
from functools import lru_cache

from pydantic import AwareDatetime, Field, ValidationError

from fruitcast.diary.plan import NaturalFlush, Plan, PlannedSoak, Sale, SoakUnderWay
from fruitcast.document import Count, Day, Document, Number, first_fault
from fruitcast.errors import InputError

# How each stack stands: what 'stacks --json' prints and the page shows beside the plan.

NATURAL_DAYS = 28
"""Days ahead for which the chance of a natural flush is given. [day]"""


class SpawnRunDays(Document):
    """When a spawn run is or was done."""

    seen: bool = Field(default=False, description="whether the grower saw it")
    early: Day | None = Field(default=None, description="the 10 % day")
    middle: Day | None = Field(description="the 50 % day")
    likely: Day | None = Field(default=None, description="the 80 % day")
    late: Day | None = Field(default=None, description="the 90 % day")


class StandingHold(Document):
    """What forbids a soak."""

    cause: str
    until: Day | None
    reason: str


class StackStanding(Document):
    """One stack or lot as it stands."""

    stack: str
    row: str = Field(default="", description="its row in stacks.csv")
    strain_class: str = ""
    strain: str = ""
    tree: str = ""
    place: str = ""
    logs: Count = 0
    inoculated: Day | None = None
    state: str = Field(description="in words")
    spawn_run_progress: Number | None = Field(default=None, description="0 to 1")
    ready: SpawnRunDays | None = Field(
        default=None, description="when the spawn run is or was done"
    )
    bearing_year: int | None = None
    bearing_life_years: Number | None = None
    moisture_wet: Number | None = Field(default=None, description="water over whole weight")
    rest_left_days: Count = 0
    soakable_from: Day | None = None
    holds: tuple[StandingHold, ...] = Field(default=(), description="what forbids a soak")
    natural_chance: Number | None = Field(
        default=None,
        description="of a first pick of a natural flush within natural_days days; null of logs "
        "that fruit by themselves now",
    )
    natural_pick_on: Day | None = Field(default=None, description="its middle day")
    last_soak_on: Day | None = None
    last_pick_on: Day | None = None
    picked_kg: Number = 0.0
    next_soak_on: Day | None = None


class Standing(Document):
    """All stacks and lots today."""

    today: Day
    planned_on: Day | None = Field(
        description="day of the plan that the next soaks come from; null without one"
    )
    natural_days: Count
    stacks: tuple[StackStanding, ...] = Field(description="one entry a stack or lot")
    losses: str = Field(
        default="",
        description="what was lost so far and the share that the plan counts on; empty when "
        "nobody wrote it down",
    )
    warnings: tuple[str, ...]


class KnownWeather(Document):
    """Where the weather is from and how far it goes."""

    origin: str
    attribution: str = ""
    observed_to: Day
    forecast_to: Day | None


class Background(Document):
    """What belongs to a plan but costs too much to work out for a page."""

    inputs: str = Field(default="", description="fingerprint of the yard that it was made from")
    plan_made_at: AwareDatetime | None = None
    stacks: tuple[StackStanding, ...] = ()
    years: tuple[Count, ...] = ()
    weather: KnownWeather | None = None


BACKGROUND = "plan background"
"""Kind of document under which it is kept."""


# Published documents in the diary: kept small, and fewer of them the older they are.

PLAN = "plan"
"""Kind of document under which the plan last published is kept in the diary."""

NEWEST_PLANS = 7
"""Plans kept whatever their age, the newest."""

WEEKLY_DAYS, MONTHLY_DAYS = 35, 183
"""Of older plans the last of each week is kept for so long, then of each month. [day]"""

NEWEST_OTHERS = 3
"""Of all other kinds so many are kept, the newest: only the last is ever asked for."""

INSERT_DOCUMENT = "INSERT INTO documents (kind, made_on, text) VALUES (?, ?, ?)"


def keep_document(connection: sqlite3.Connection, kind: str, made_on: date, text: str) -> None:
    """Keep a document as the last one of its kind and day, and thin out those before it."""
    row = (kind, made_on.isoformat())
    connection.execute("DELETE FROM documents WHERE kind = ? AND made_on = ?", row)
    connection.execute(INSERT_DOCUMENT, (*row, packed(text)))
    _thin_out(connection, kind, made_on)


def _thin_out(connection: sqlite3.Connection, kind: str, today: date) -> None:
    found = connection.execute(
        "SELECT id, made_on FROM documents WHERE kind = ? ORDER BY id DESC", (kind,)
    ).fetchall()
    older = found[NEWEST_PLANS if kind == PLAN else NEWEST_OTHERS :]
    spans: set[tuple[int, ...]] = set()
    dropped = []
    for number, made_on in older:
        day = date.fromisoformat(made_on)
        week = tuple(day.isocalendar()[:2])
        span = week if today - day < timedelta(WEEKLY_DAYS) else (day.year, day.month, 0)
        if kind != PLAN or span in spans or today - day >= timedelta(MONTHLY_DAYS):
            dropped.append((number,))
        spans.add(span)
    connection.executemany("DELETE FROM documents WHERE id = ?", dropped)


def pack_kept_documents(connection: sqlite3.Connection) -> None:
    """Pack the documents that were kept as plain text."""
    for number, text in connection.execute("SELECT id, text FROM documents").fetchall():
        if isinstance(text, str):
            row = (packed(text), number)
            connection.execute("UPDATE documents SET text = ? WHERE id = ?", row)


def packed(text: str) -> bytes:
    """Return a text as it is kept."""
    return zlib.compress(text.encode())


def unpacked(kept: str | bytes) -> str:
    """Return the text of a kept document, as much of it as can be read."""
    if isinstance(kept, str):  # as version 1 kept it
        return kept
    try:
        return zlib.decompressobj().decompress(kept).decode(errors="replace")
    except zlib.error:
        return ""


# Plan and background kept in the diary: read by their classes, a damaged one counts for none.


class DamagedPlanError(InputError):
    """What the diary keeps as the published plan is not one."""


@lru_cache(maxsize=1)
def kept_plan(text: str) -> Plan:
    """Return the plan that a text holds; whoever plans asks several times for the same one.

    Raises DamagedPlanError if it is not one, with the first thing that is not as it should be.
    """
    try:
        return Plan.model_validate_json(text)
    except ValidationError as error:
        raise DamagedPlanError(
            f"The published plan kept in the diary cannot be read ({first_fault(error)}). "
            "'fruitcast plan' publishes a new one."
        ) from None


def kept_background(text: str) -> Background:
    """Return what the page shows beside the plan, nothing when the text holds no such thing.

    It is worked out anew from what else is there.
    """
    try:
        return Background.model_validate_json(text)
    except ValidationError:
        return Background()


# What each published plan foretold, kept to be held against what the diary tells later.

FIRST_PICK, FLUSH_WEIGHT = "first pick", "flush weight"
NATURAL_FLUSH = "natural flush"
AVAILABLE, PROMISE = "available at sale", "promise"

LEADS = (7, 14, 28)
"""What is foretold of one outcome is told again only nearer to it than one of these. [day]"""

LEAST_APART = 7
"""And not sooner than this: the day an outcome is expected on moves to and fro. [day]

All changes of all plans would be a hundred times as much, and say no more about how good they are.
"""


LEAST_OUTCOMES = 5
"""Fewer say nothing: of four right ranges two or more are missed in 18 of 100 cases by luck."""


@dataclass(frozen=True)
class Foretold:
    """What a plan says of one outcome; what it doesn't say is None."""

    # 'first pick' and 'flush weight' of a soak, 'natural flush' of a week, 'available at sale'
    # and 'promise' of a day
    about: str
    whose: str  # stack, lot or outlet
    # The soak's first day, the week's Monday, the day of the sale; in ISO. With `about` and
    # `whose` the key of the outcome.
    day: str
    # Quantiles and mean; those of a flush's weight where it comes at all [days from `day` for a
    # first pick, else kg]
    p10: float | None = None
    p50: float | None = None
    p90: float | None = None
    mean: float | None = None
    least: float | None = None  # what is reached or passed with the chance beside it [kg]
    chance: float | None = None  # that chance; without `least` that it happens at all [0..1]


def foretold_in(text: str) -> Iterator[tuple[date, Foretold]]:
    """Return what a kept plan foretells and the day on which it should show.

    What can't be read of it is passed over.
    """
    # Each entry is read by itself, so that an old or damaged one spoils no other.
    try:
        plan = json.loads(text)
    except (ValueError, RecursionError):
        return
    if not isinstance(plan, dict):
        return
    promise = plan.get("promise")
    for key, kind in (
        ("soaks", PlannedSoak),
        ("under_way", SoakUnderWay),
        ("natural", NaturalFlush),
        ("outlets", Sale),
    ):
        entries = plan.get(key)
        for entry in entries if isinstance(entries, list) else ():
            try:
                read = kind.model_validate(entry, strict=False)
            except ValidationError:
                continue
            if isinstance(read, NaturalFlush):
                yield _natural(read)
            elif not isinstance(read, Sale):
                yield from _flush(read)
            elif isinstance(promise, int | float):
                yield from _sale(read, promise)


def _flush(soak: PlannedSoak | SoakUnderWay) -> Iterator[tuple[date, Foretold]]:
    key = (soak.stack, soak.soak_on.isoformat())
    picks = (soak.pick.p10, soak.pick.p50, soak.pick.p90)
    yield picks[1], Foretold(FIRST_PICK, *key, *((pick - soak.soak_on).days for pick in picks))
    low, high = (None if kg is None else _rounded(kg) for kg in (soak.kg_p10, soak.kg_p90))
    mean = _rounded(soak.expected_kg)
    yield picks[1], Foretold(FLUSH_WEIGHT, *key, p10=low, p90=high, mean=mean)


def _natural(flush: NaturalFlush) -> tuple[date, Foretold]:
    key = (flush.stack, flush.week.isoformat())
    mean, chance = _rounded(flush.expected_kg), _rounded(flush.chance)
    return flush.week, Foretold(NATURAL_FLUSH, *key, mean=mean, chance=chance)


def _sale(sale: Sale, promise: float) -> Iterator[tuple[date, Foretold]]:
    key = (sale.outlet, sale.on.isoformat())
    low, high = _rounded(sale.available_p10_kg), _rounded(sale.available_p90_kg)
    wanted, chance = _rounded(sale.target_kg), _rounded(sale.chance)
    yield sale.on, Foretold(AVAILABLE, *key, p10=low, p90=high, least=wanted, chance=chance)
    promised = _rounded(sale.promise_kg)
    yield sale.on, Foretold(PROMISE, *key, least=promised, chance=_rounded(promise))


def _rounded(value: float) -> float:
    """Return a weight to 10 g, a chance to a hundredth: what is less is no news."""
    return round(float(value), 2)


def foretell(connection: sqlite3.Connection, made_on: date, text: str) -> None:
    """Write down what a plan foretells, as far as it is new."""
    oldest = (made_on - timedelta(days=366)).isoformat()
    last = {
        row[:3]: (date.fromisoformat(row[9]), Foretold(*row[:9]))
        for row in connection.execute(_SELECT, (oldest,))
    }
    rows = []
    for due, told in foretold_in(text):
        lead = _lead(due, made_on)
        if lead is None:
            continue
        before = last.get((told.about, told.whose, told.day))
        if before is not None:
            earlier = _lead(due, before[0])
            nearer = lead < (len(LEADS) - 1 if earlier is None else earlier)
            apart = (made_on - before[0]).days >= LEAST_APART
            if before[1] == told or not (nearer and apart):
                continue
        rows.append((made_on.isoformat(), *astuple(told)))
    connection.executemany(_INSERT_FORETOLD, rows)


def _lead(due: date, made_on: date) -> int | None:
    """Return how near an outcome is, as a step of `LEADS`; None when it is past or far off."""
    days = (due - made_on).days
    return next((step for step, most in enumerate(LEADS) if 0 <= days <= most), None)


# The table of schema version 2, which is also filled when an older diary is brought to it.
_FIELDS = "about, whose, day, p10, p50, p90, mean, least, chance"
_SELECT = f"SELECT {_FIELDS}, made_on FROM foretold WHERE day >= ? ORDER BY id"
_INSERT_FORETOLD = f"INSERT INTO foretold (made_on, {_FIELDS}) VALUES (?{', ?' * 9})"


def all_foretold(connection: sqlite3.Connection) -> tuple[tuple[date, Foretold], ...]:
    """Return all that was foretold and the day of its plan, the oldest first."""
    found = connection.execute(_SELECT, ("",))
    return tuple((date.fromisoformat(row[9]), Foretold(*row[:9])) for row in found)


def foretell_from_kept_plans(connection: sqlite3.Connection) -> None:
    """Write down what the plans foretold that an older diary keeps, the oldest first."""
    kept = connection.execute(
        "SELECT made_on, text FROM documents WHERE kind = ? ORDER BY made_on, id", (PLAN,)
    )
    for made_on, text in kept.fetchall():
        foretell(connection, date.fromisoformat(made_on), unpacked(text))
