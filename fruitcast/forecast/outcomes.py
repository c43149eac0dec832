"""What became of what was foretold: each outcome that the diary tells, beside what was told.

What counts is what was told at the time, not the last word: an outcome has up to three
forecasts, one for each span of `BANDS`. A forecast that was not told again still stood, so it
serves for the nearer span too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fruitcast.diary.cold_store import cold_store_by_day, losses
from fruitcast.diary.entries import kind_named
from fruitcast.diary.events import SOLD, Event, in_force
from fruitcast.diary.kept_plan import (
    AVAILABLE,
    FIRST_PICK,
    FLUSH_WEIGHT,
    LEADS,
    NATURAL_FLUSH,
    PROMISE,
    Foretold,
)
from fruitcast.diary.state import Pick, Soak, StackState, picks_by_flush
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.numbers import Numbers
from fruitcast.topics import DiaryNumbers
from fruitcast.yard.model import Yard

BANDS = tuple(zip((0, *(lead + 1 for lead in LEADS[:-1])), LEADS, strict=True))
"""Spans of how long before something was told, first and last day. [day]"""

WEEK = timedelta(days=7)

Key = tuple[str, str, str]
"""What a forecast is about, whose, and the day: see `Foretold`."""

Told = tuple[date, Foretold]
"""A forecast and the day of its plan."""


@dataclass(frozen=True)
class Pair:
    """A forecast as it stood, and what came."""

    told: Foretold  # the forecast
    # Days from the soak to the first pick [day]; weight of a flush, or on hand at a sale [kg]; 1 or
    # 0 for a natural flush that began in its week or did not
    came: float


@dataclass(frozen=True)
class Became:
    """What the diary tells of one outcome."""

    value: float  # as in `Pair.came`
    shown_on: date  # the day it showed: a forecast of that day or a later one is none


@dataclass(frozen=True)
class Outcomes:
    """All that was foretold and can be judged."""

    # By what it is about and number of the span in `BANDS`
    pairs: Mapping[tuple[str, int], Sequence[Pair]]
    # Soaks foretold and made whose time is over and of which the diary tells nothing
    silent_soaks: int


def outcomes(
    told: Sequence[Told], yard: Yard, events: Sequence[Event], today: date, numbers: Numbers
) -> Outcomes:
    """Return what was foretold beside what the diary tells of it.

    Only what was told at least a day before counts. A soak made on another day than the one
    foretold is another soak; one without picks counts only when it is written down that nothing
    came. A week without a natural flush counts when the diary goes on after it. What was on hand
    at a sale is known when a sale to that outlet or a count of the stock is written down for that
    day.

    `told` has the forecasts with the day of their plan, the oldest first; entries later than
    `today` are left out.
    """
    valid = [event for event in in_force(events) if event.on <= today]
    states = yard_state(yard, events, today).stacks
    diary = _DiaryFlushes(
        states,
        max((e.on for e in valid), default=date.min),
        today,
        longest_flush=numbers.picking.longest_flush,
        diary=numbers.diary,
    )
    sales = _SaleDays(yard, valid, today)
    ask: dict[str, Callable[[str, date], Became | None]] = {
        FIRST_PICK: diary.first_pick,
        FLUSH_WEIGHT: diary.weight,
        NATURAL_FLUSH: diary.natural,
        AVAILABLE: sales.on_hand,
        PROMISE: sales.on_hand,
    }
    by_key: dict[Key, list[Told]] = {}
    for made_on, forecast in told:
        key = (forecast.about, forecast.whose, forecast.day)
        by_key.setdefault(key, []).append((made_on, forecast))
    pairs: dict[tuple[str, int], list[Pair]] = {}
    for (about, whose, day), rows in by_key.items():
        became = ask[about](whose, date.fromisoformat(day)) if about in ask else None
        if became is None:
            continue
        picks = by_key.get((FIRST_PICK, whose, day), [])
        before = [row for row in rows if row[0] < became.shown_on]
        leads = [_lead(row, picks) for row in before]
        for band, (nearest, _) in enumerate(BANDS):
            far = [
                row[1]
                for row, lead in zip(before, leads, strict=True)
                if lead is not None and lead >= max(nearest, 1)
            ]
            if far:
                pairs.setdefault((about, band), []).append(Pair(far[-1], became.value))
    soaks = {(whose, day) for about, whose, day in by_key if about == FIRST_PICK}
    silent = sum(diary.silent(whose, date.fromisoformat(day)) for whose, day in soaks)
    return Outcomes(pairs, silent)


def _lead(row: Told, picks: Iterable[Told]) -> int | None:
    """Return how long before its outcome something was told, as was thought then. [day]

    A flush was expected on the middle day that the same plan, or the last before, gave for its
    first pick.
    """
    made_on, forecast = row
    days: float | None = 0.0
    if forecast.about in (FIRST_PICK, FLUSH_WEIGHT):
        days = next((pick.p50 for on, pick in reversed([*picks]) if on <= made_on), None)
    if days is None:
        return None
    return (date.fromisoformat(forecast.day) - made_on).days + round(days)


class _DiaryFlushes:
    """The flushes of the diary, by stack or lot."""

    def __init__(
        self,
        states: Mapping[str, StackState],
        told_to: date,
        today: date,
        *,
        longest_flush: float,
        diary: DiaryNumbers,
    ) -> None:
        self.states, self.told_to, self.today = states, told_to, today
        self.longest = timedelta(days=longest_flush)
        self.window = timedelta(days=diary.forced_pick_days)
        self.flushes = {
            name: picks_by_flush(state.picks, flush_days=diary.flush_days)
            for name, state in states.items()
        }

    def forced(self, whose: str, soaked_on: date) -> tuple[Pick, ...]:
        """Return the picks of a soak."""
        found = (picks for picks in self.flushes.get(whose, ()) if picks[0].soaked_on == soaked_on)
        return next(found, ())

    def first_pick(self, whose: str, soaked_on: date) -> Became | None:
        """Return the days from a soak to its first pick."""
        picks = self.forced(whose, soaked_on)
        if not picks:
            return None
        first = picks[0].on
        return Became(float((first - soaked_on).days), first)

    def weight(self, whose: str, soaked_on: date) -> Became | None:
        """Return the weight of a flush that is over; nothing when it is written down so."""
        picks = self.forced(whose, soaked_on)
        if picks:
            over = self.today > picks[0].on + self.longest
            return Became(sum(pick.kg for pick in picks), picks[0].on) if over else None
        soak = self._soak(whose, soaked_on)
        if soak is None or soak.pulled_on is None or not soak.brought_nothing:
            return None
        return Became(0.0, soak.pulled_on + self.window)

    def silent(self, whose: str, soaked_on: date) -> bool:
        """Return whether a soak was made and its time is over without a word of what came."""
        soak = self._soak(whose, soaked_on)
        if soak is None or soak.pulled_on is None or soak.brought_nothing:
            return False
        return not self.forced(whose, soaked_on) and self.today > soak.pulled_on + self.window

    def _soak(self, whose: str, on: date) -> Soak | None:
        state = self.states.get(whose)
        return next((soak for soak in state.soaks if soak.on == on), None) if state else None

    def natural(self, whose: str, monday: date) -> Became | None:
        """Return whether a natural flush began in a week."""
        if whose not in self.flushes or monday + WEEK > self.told_to + timedelta(days=1):
            return None
        firsts = [picks[0] for picks in self.flushes[whose] if picks[0].kind == "natural"]
        came = any(monday <= first.on < monday + WEEK for first in firsts)
        return Became(float(came), monday)


class _SaleDays:
    """What was on hand at sales."""

    def __init__(self, yard: Yard, valid: Sequence[Event], today: date) -> None:
        self.store = cold_store_by_day(
            valid,
            saleable=losses(yard, valid).share,
            keeps_days=yard.cold_store_days,
            today=today,
        )
        weights = {outlet.name: outlet.weight for outlet in yard.outlets}
        weights |= {order.outlet: order.weight for order in yard.orders}
        self.weights = weights
        self.sold = {(event.outlet, event.on) for event in valid if event.kind == SOLD}
        self.counted = {event.on for event in valid if kind_named(event.kind).cold_store == "count"}

    def on_hand(self, outlet: str, on: date) -> Became | None:
        """Return what an outlet found, once those served before it on that day had theirs. [kg]

        What is picked on the day itself is for sale from the next day on, but what of it was
        sold at once was there.
        """
        if (outlet, on) not in self.sold and on not in self.counted:
            return None
        left, gone = self.store[on]
        left = [batch for batch in left if not batch.grade]
        kg = sum(batch.kg for batch in left if batch.picked_on < on or batch.stack == "")
        turn = self._turn(outlet)
        kg += sum(
            part.batch.kg
            for part in gone
            if part.event.kind == SOLD
            and not part.batch.grade
            and self._turn(part.event.outlet) >= turn
        )
        return Became(kg, on)

    def _turn(self, outlet: str) -> tuple[float, str]:
        """Return an outlet's place in the line: the heaviest first, then by name."""
        return (-self.weights.get(outlet, 1.0), outlet)
