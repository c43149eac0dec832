"""One reminder: a thing to do, to expect, or done; its words, time and length."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from math import ceil
from typing import Literal, get_args
from zoneinfo import ZoneInfo

from fruitcast.diary.events import COVER, INOCULATE, TURN, UNCOVER
from fruitcast.diary.plan import FlushUnderWay, Pick, PlannedSoak, SoakUnderWay, YoungCare
from fruitcast.diary.state import Pick as Picked
from fruitcast.diary.state import Soak, YardState, picks_by_flush
from fruitcast.numbers import Numbers
from fruitcast.outputs.cautions import CAUTIONS
from fruitcast.units import format_weight
from fruitcast.words import (
    clean_line,
    clean_text,
    count_words,
    day_words,
    hours_words,
    span_words,
    time_words,
)
from fruitcast.yard.model import SEPARATOR, Yard

ReminderKind = Literal[
    "soak",
    "pull",
    "pins",
    "pick",
    "picking",
    "cover",
    "pick twice",
    "rest",
    "ready",
    "water",
    "care",
    "inspect",
    "weigh",
    "retire",
]

KINDS: tuple[ReminderKind, ...] = get_args(ReminderKind)
"""All kinds, in the order in which one day's reminders are listed."""

FOLLOW_A_SOAK: frozenset[ReminderKind] = frozenset({"pull", "pins", "pick", "cover"})
"""Kinds that belong to the soak of the same stack and ordinal."""

DRY_SPELLS = 100
"""Ordinals of care from here on are months in which new logs are watered in dry spells."""


@dataclass(frozen=True)
class Reminder:
    """One thing to do, to expect, or done.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    stack : str
        Stack or lot; empty for a watering, which is one reminder for all stacks of a day.
    ordinal : int
        The soak's place in the stack's life, counted from 1 over recorded and planned soaks, so
        that a soak moved to another day stays the same reminder; for a watering the day's number;
        for the care of young logs its place in their life; for a flush that came by itself, and
        for what is still to be picked of any, the day it began; 0 for what is asked of a stack
        until it is done.
    start, end : date or aware datetime
        Both dates (all-day; `end` is the day after the last) or both times in the yard's zone.
    summary, description : str
        Words for people, cleaned of control characters.
    reasons : tuple of str
        Why, one cause each.
    alarms : tuple of datetime
        When to ring.
    done : bool
        Whether the diary says it was done.
    stacks : tuple of str
        Those of a watering; a calendar that is kept has them in its words alone.
    says_days : bool
        Whether its summary says between which days; its last day is then told nowhere else.
    """

    kind: ReminderKind
    stack: str
    ordinal: int
    start: date
    end: date
    summary: str
    description: str = ""
    reasons: tuple[str, ...] = ()
    alarms: tuple[datetime, ...] = ()
    done: bool = False
    stacks: tuple[str, ...] = field(default=(), compare=False)
    says_days: bool = field(default=False, compare=False)

    @property
    def key(self) -> str:
        """What stays the same when the plan is recomputed."""
        return f"{self.kind}|{self.ordinal}|{self.stack}"

    @property
    def first_day(self) -> date:
        """The first day it falls on."""
        return self.start.date() if isinstance(self.start, datetime) else self.start

    @property
    def last_day(self) -> date:
        """The last day it falls on."""
        if isinstance(self.end, datetime):
            return self.end.date()
        return self.end - timedelta(days=1)


def until_words(job: Reminder, day: date) -> str:
    """Return 'until Wed 18 May' for a job that goes on after a day and doesn't say so itself.

    Of logs that should have come out of the tank before it is 'due since Wed 18 May'.
    """
    if job.kind == "pull" and not job.done and job.last_day < day:
        return f"due since {day_words(job.first_day)}"
    return f"until {day_words(job.last_day)}" if job.last_day > day and not job.says_days else ""


def in_dry_spells(reminder: Reminder) -> bool:
    """Return whether it is a month in which new logs are watered in dry spells."""
    return reminder.kind == "care" and reminder.ordinal >= DRY_SPELLS


# Jobs that the diary calls done and no model asks after: turning, inoculating, covering.

INOCULATING, TURNINGS = 0, 10
"""Ordinals of young logs' care; turnings count on from theirs."""

COVERED_BEFORE = timedelta(days=3)
"""Logs covered so long before the rain are taken to be covered still."""

_SAID: dict[str, tuple[ReminderKind, str]] = {
    TURN: ("care", "Turned and restacked {}"),
    INOCULATE: ("care", "Inoculated {}"),
    COVER: ("cover", "Covered {}"),
}


def still_asked(
    entries: Iterable[YoungCare], state: YardState, *, turn_days: float
) -> list[YoungCare]:
    """Return the care that the diary does not call done.

    Parameters
    ----------
    entries : iterable of YoungCare
        What stacks want.
    state : YardState
        What the diary says.
    turn_days : float
        Between two turnings: one that was done early or late takes the place of the nearest. [day]
    """
    half = timedelta(days=int(turn_days) // 2)

    def done(entry: YoungCare) -> bool:
        if entry.ordinal == INOCULATING:
            return bool(_days(state, entry.stack, INOCULATE))
        if not is_turning(entry.ordinal):
            return False
        return any(abs(entry.first - on) <= half for on in _days(state, entry.stack, TURN))

    return [entry for entry in entries if not done(entry)]


def is_turning(ordinal: int) -> bool:
    """Return whether it is the ordinal of a turning."""
    return TURNINGS <= ordinal < DRY_SPELLS


def is_covered(state: YardState, stack: str, first: date, last: date) -> bool:
    """Return whether a stack or lot was covered for the rain of some days, and still is."""
    return any(
        _is_on(one.tended, first - COVERED_BEFORE, last)
        for name, one in state.stacks.items()
        if stack in (name, state.lot_of.get(name))
    )


def _is_on(tended: Sequence[tuple[str, date]], first: date, last: date) -> bool:
    """Return whether a cover laid between two days was not taken off by the last of them."""
    done = [(what, on) for what, on in tended if what in (COVER, UNCOVER) and on <= last]
    return bool(done) and done[-1][0] == COVER and done[-1][1] >= first


def tended(state: YardState) -> Iterator[Reminder]:
    """Yield what was done, each job of a stack on one day once, however often it was ticked."""
    seen = {
        (kind, state.lot_of.get(name, name) if kind != COVER else name, on)
        for name, stack in state.stacks.items()
        for kind, on in stack.tended
        if kind in _SAID
    }
    for what, name, on in sorted(seen):
        kind, summary = _SAID[what]
        yield Reminder(
            kind=kind,
            stack=name,
            # The day tells one turning from the next; no care to come has such a number.
            ordinal=on.toordinal(),
            start=on,
            end=on + timedelta(days=1),
            summary=summary.format(clean_line(name)),
            done=True,
        )


def _days(state: YardState, stack: str, kind: str) -> list[date]:
    """Return the days on which a job was done with a stack or lot, or with lots of it."""
    return [
        on
        for name, one in state.stacks.items()
        if stack in (name, state.lot_of.get(name))
        for on in one.tended_on(kind)
    ]


# Words, times and lengths of one yard's reminders.

EVENING = time(18)
"""When the evening before a soak rings."""
PULL_NOTICE = timedelta(hours=1)
"""How long before a pull its alarm rings."""

BARROW_KG = 70.0
"""A load of a garden barrow on a woodland path, five or six logs of 12 to 15 cm: a judgement."""

_QUARTER_HOURS = 0.25
_ONE_DAY = timedelta(days=1)
_TANK_CAUTION = f"{CAUTIONS['tank']} {CAUTIONS['lifting']}"
_PICK_CAUTION = CAUTIONS["lookalikes"]


def clean_reasons(*reasons: str) -> tuple[str, ...]:
    """Return the reasons of one entry of the plan as a calendar can show them."""
    return tuple(clean_line(reason) for reason in reasons if reason)


def local_time(day: date, wall: time, zone: ZoneInfo) -> datetime:
    """Return a wall-clock time of one day as a time that exists.

    A time that the change of the clock skips is taken with the offset before the change; of
    one that comes twice it is the first (RFC 5545, section 3.3.5).
    """
    return datetime.combine(day, wall, zone).astimezone(UTC).astimezone(zone).replace(fold=0)


class ReminderWriter:
    """Writes the reminders of one yard: its zone, soak time, units, notes and numbers."""

    def __init__(self, yard: Yard, state: YardState, numbers: Numbers) -> None:
        self._zone = yard.site.timezone
        self._start = yard.soaking.start
        self._units = yard.units
        self._numbers = numbers
        self.turn_days = numbers.inoculation.turn_days
        self._notes = {stack.name: clean_text(stack.note) for stack in yard.stacks}
        self._row_of = state.lot_of
        self._state = state
        self._rows = {stack.name: stack for stack in yard.stacks}

    def soak(
        self,
        stack: str,
        ordinal: int,
        entry: PlannedSoak | SoakUnderWay,
        beside: Collection[str] = (),
    ) -> Reminder:
        """Return the reminder of a planned soak; `beside` are all that go in on that day."""
        day, logs, hours = entry.soak_on, entry.logs, entry.hours
        pull = self._at_start(entry.pull_on)
        first, likely, last = pick_days(entry.pick)
        lines = (
            f"{count_words(logs, 'log')} in water for {hours_words(hours)}; pull on "
            f"{day_words(pull)} at {time_words(pull)}.",
            f"First pick about {day_words(likely)} ({span_words(first, last)}), "
            f"{self._weight(entry.expected_kg)} expected.",
            _TANK_CAUTION,
        )
        start, end = self._work(day, logs, self._numbers.work.soak_hours_per_log)
        which = self._lot_words(stack, logs, beside)
        return self._with_reasons(
            Reminder(
                kind="soak",
                stack=stack,
                ordinal=ordinal,
                start=start,
                end=end,
                summary=f"Soak {_soak_words(stack, logs, hours)}{which}",
                description="\n".join(lines),
                reasons=clean_reasons(*entry.reasons),
                alarms=(local_time(day - _ONE_DAY, EVENING, self._zone),),
            )
        )

    def _lot_words(self, name: str, logs: int, beside: Collection[str]) -> str:
        """Return which logs of a stack an accepted lot is, how heavy, and what stays."""
        state, accepted = self._state, self._state.accepted.get(name)
        if accepted is None:
            return ""
        from fruitcast.biology.wood import fresh_mass  # loads numpy, which 'week' is spared

        base, _, number = name.partition(SEPARATOR)
        dots = count_words(int(number), "dot")
        last = state.stacks[name].last_soak
        marked = last is not None and last.on >= accepted
        which = f"those with {dots} on the ends" if marked else f"on top, put {dots} on their ends"
        row = self._rows[state.lot_of[name]]
        density = self._numbers.tree(row.tree).density
        kg = logs * float(fresh_mass(row.diameter, row.length, density))
        loads = count_words(ceil(kg / BARROW_KG), "barrow load")
        others = [
            other
            for other in state.accepted
            if other != name and other.partition(SEPARATOR)[0] == base and state.stacks[other].logs
        ]
        stay = [other for other in others if other not in beside]
        words = f"{', '.join(stay)} {'stays' if len(stay) == 1 else 'stay'}" if stay else ""
        if together := [other for other in others if other in beside]:
            words = f"with {', '.join(together)}{'; ' if words else ''}{words}"
        heavy = format_weight(kg, self._units)
        return "; ".join(filter(None, (f": {which}, about {heavy}, {loads}", words)))

    def after_soak(
        self, stack: str, ordinal: int, entry: PlannedSoak | SoakUnderWay
    ) -> Iterator[Reminder]:
        """Return what follows a soak: pull, cover, pins, pick."""
        pull_on, soak_on = entry.pull_on, entry.soak_on
        first, likely, last = pick_days(entry.pick)
        name = clean_line(stack)
        yield self.pull(stack, ordinal, logs=entry.logs, soaked_on=soak_on, day=pull_on)
        cover = entry.cover
        if cover and not is_covered(self._state, stack, cover.first, cover.last):
            yield self.all_day(
                Reminder(
                    kind="cover",
                    stack=stack,
                    ordinal=ordinal,
                    start=cover.first,
                    end=cover.last,
                    summary=f"Keep {name} covered",
                    reasons=clean_reasons(cover.reason),
                )
            )
        share = self._numbers.forced.pins_share
        watch = pull_on + timedelta(days=round(share * (first - pull_on).days))
        if watch < first:
            yield self.all_day(
                Reminder(
                    kind="pins",
                    stack=stack,
                    ordinal=ordinal,
                    start=watch,
                    end=first - _ONE_DAY,
                    summary=f"Watch {name} for pins",
                    description=f"First pick about {day_words(likely)}.",
                )
            )
        seen = state.fruiting_on if (state := self._state.stacks.get(stack)) else None
        ripe = seen is not None and soak_on < seen and likely <= seen
        yield self.all_day(
            Reminder(
                kind="pick",
                stack=stack,
                ordinal=ordinal,
                start=first,
                end=last,
                summary=f"Pick {name}: seen on {day_words(seen)}"
                if ripe and seen
                else _look_words(name, entry.pick),
                says_days=not ripe,
                description=(
                    "In 8 of 10 weather years the first pick falls within "
                    f"{span_words(first, last)}. {self._weight(entry.expected_kg)} expected "
                    f"in all.\n{_PICK_CAUTION}"
                ),
            )
        )

    def pull(self, stack: str, ordinal: int, *, logs: int, soaked_on: date, day: date) -> Reminder:
        """Return the reminder to pull the logs from the tank: those that live by now."""
        living = self._state.stacks.get(stack)
        logs = min(logs, living.logs) if living and living.logs else logs
        start, end = self._work(day, logs, self._numbers.work.pull_hours_per_log)
        return self._with_reasons(
            Reminder(
                kind="pull",
                stack=stack,
                ordinal=ordinal,
                start=start,
                end=end,
                summary=f"Pull {_soak_words(stack, logs, None)}",
                description=_TANK_CAUTION,
                reasons=(f"in the tank since {day_words(soaked_on)}",),
                alarms=((start.astimezone(UTC) - PULL_NOTICE).astimezone(self._zone),),
            )
        )

    def pull_day(self, soaked_on: date, hours: float | None) -> date:
        """Return the first morning after a recorded soak's hours, or the usual ones, are full."""
        length = timedelta(hours=hours or self._numbers.forced.usual_hours)
        full = self._at_start(soaked_on).astimezone(UTC) + length
        day = full.astimezone(self._zone).date()
        return day if self._at_start(day) >= full else day + _ONE_DAY

    def soaked(self, stack: str, ordinal: int, soak: Soak) -> Reminder:
        """Return a recorded soak."""
        start, end = self._work(soak.on, soak.logs, self._numbers.work.soak_hours_per_log)
        return Reminder(
            kind="soak",
            stack=stack,
            ordinal=ordinal,
            start=start,
            end=end,
            summary=f"Soaked {_soak_words(stack, soak.logs, soak.hours)}",
            done=True,
        )

    def pulled(self, stack: str, ordinal: int, soak: Soak, pulled_on: date) -> Reminder:
        """Return a recorded pull."""
        start, end = self._work(pulled_on, soak.logs, self._numbers.work.pull_hours_per_log)
        return Reminder(
            kind="pull",
            stack=stack,
            ordinal=ordinal,
            start=start,
            end=end,
            summary=f"Pulled {_soak_words(stack, soak.logs, None)}",
            done=True,
        )

    def flushes(self, picks: tuple[Picked, ...]) -> tuple[tuple[Picked, ...], ...]:
        """Return picks by the flush they belong to."""
        return picks_by_flush(picks, flush_days=self._numbers.diary.flush_days)

    def picked(self, stack: str, ordinal: int, picks: Sequence[Picked], *, more: bool) -> Reminder:
        """Return what was picked of a flush; while more is to come the last day first."""
        days = sorted({pick.on for pick in picks})
        words = self._weight(sum(pick.kg for pick in picks))
        if more and len(days) > 1:
            latest = self._weight(sum(pick.kg for pick in picks if pick.on == days[-1]))
            words = f"{latest} on {day_words(days[-1])}, {words} of this flush so far"
        return self.all_day(
            Reminder(
                kind="pick",
                stack=stack,
                ordinal=ordinal,
                start=days[0],
                end=days[-1],
                summary=f"Picked {clean_line(stack)}: {words}",
                description="\n".join(
                    f"{day_words(pick.on)}: {self._weight(pick.kg)}" for pick in picks
                ),
                done=True,
            )
        )

    def seen_fruiting(self, entry: FlushUnderWay) -> Reminder:
        """Return the first pick of a flush that comes by itself and was seen."""
        first, likely, last = pick_days(entry.pick)
        name, kg = clean_line(entry.stack), self._weight(entry.expected_kg)
        ripe = likely <= entry.begun
        return self.all_day(
            Reminder(
                kind="pick",
                stack=entry.stack,
                ordinal=entry.begun.toordinal(),
                start=first,
                end=entry.last if ripe else last,
                summary=f"Pick {name}: seen on {day_words(entry.begun)}"
                if ripe
                else _look_words(name, entry.pick),
                says_days=not ripe,
                description=f"It comes by itself; {kg} expected in all.\n{_PICK_CAUTION}",
            )
        )

    def still_to_pick(self, entry: FlushUnderWay, first: date) -> Reminder:
        """Return what is still to be picked of a flush from a day on."""
        kg = self._weight(entry.expected_kg)
        return self.all_day(
            Reminder(
                kind="picking",
                stack=entry.stack,
                ordinal=entry.begun.toordinal(),
                start=first,
                end=entry.last,
                summary=f"Pick {clean_line(entry.stack)}: about {kg} still to come",
                description=_PICK_CAUTION,
                reasons=clean_reasons(*entry.reasons),
            )
        )

    def all_day(self, draft: Reminder) -> Reminder:
        """Return a draft whose `end` is its last day as an all-day reminder with its reasons."""
        return self._with_reasons(replace(draft, end=draft.end + _ONE_DAY))

    def _with_reasons(self, draft: Reminder) -> Reminder:
        """Write the reasons and, while there is something to do, the stack's note below it."""
        row = self._row_of.get(draft.stack, draft.stack)
        note = "" if draft.done else self._notes.get(row, "")
        lines = [
            draft.description,
            *(f"Why: {reason}" for reason in draft.reasons),
            f"Note: {note}" if note else "",
        ]
        return replace(draft, description="\n".join(line for line in lines if line))

    def _at_start(self, day: date) -> datetime:
        return local_time(day, self._start, self._zone)

    def _work(self, day: date, logs: int, hours_per_log: float) -> tuple[datetime, datetime]:
        """Start and end of work on so many logs, in whole quarters of an hour on the clock."""
        start = self._at_start(day)
        quarters = max(1, round(logs * hours_per_log / _QUARTER_HOURS))
        end = start + timedelta(hours=quarters * _QUARTER_HOURS)
        return start, local_time(end.date(), end.time(), self._zone)

    def _weight(self, kg: float) -> str:
        return format_weight(kg, self._units)


def pick_days(pick: Pick) -> tuple[date, date, date]:
    """Return the early, middle and late day of a first pick."""
    return pick.p10, pick.p50, pick.p90


def _look_words(name: str, pick: Pick) -> str:
    """Return the job of the days on which the first pick may come: until it does, only to look."""
    days = f" ({span_words(pick.p10, pick.p90)})" if pick.p10 < pick.p90 else ""
    return f"Look at {name}: first pick about {day_words(pick.p50)}{days}"


def _soak_words(stack: str, logs: int, hours: float | None) -> str:
    length = "" if hours is None else f", {hours_words(hours)}"
    return f"{clean_line(stack)} ({count_words(logs, 'log')}{length})"
