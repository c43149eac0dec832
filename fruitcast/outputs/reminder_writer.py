"""The words, times and lengths of one yard's reminders."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from math import ceil
from typing import Any, Literal
from zoneinfo import ZoneInfo

from fruitcast.diary.plan import FlushUnderWay, Pick, PlannedSoak, SoakUnderWay
from fruitcast.diary.state import Pick as Picked
from fruitcast.diary.state import Soak, YardState, picks_by_flush
from fruitcast.numbers import Numbers
from fruitcast.outputs.cautions import CAUTIONS
from fruitcast.outputs.reminder import Reminder, ReminderKind, Weights, is_covered
from fruitcast.units import Units, format_weight
from fruitcast.words import (
    about_words,
    clean_line,
    clean_text,
    comes_words,
    count_words,
    day_words,
    hours_words,
    span_words,
    time_words,
)
from fruitcast.yard.model import SEPARATOR, Yard, stack_of

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
        self._rows = yard.by_name

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
        comes = comes_words(entry.comes) if isinstance(entry, PlannedSoak) else ""
        lines = (
            f"{count_words(logs, 'log')} in water for {hours_words(hours)}; pull on "
            f"{day_words(pull)} at {time_words(pull)}.",
            f"First pick about {about_words(*pick_days(entry.pick))}, "
            f"{self._weight(entry.expected_kg)} expected{f'; {comes}' if comes else ''}.",
            _TANK_CAUTION,
        )
        return self._work(
            "soak",
            stack,
            ordinal,
            (day, logs),
            f"Soak {_soak_words(stack, logs, hours)}{self._lot_words(stack, logs, beside)}",
            description="\n".join(lines),
            reasons=clean_reasons(*entry.reasons),
            alarms=(local_time(day - _ONE_DAY, EVENING, self._zone),),
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
            if other != name and stack_of(other) == base and state.stacks[other].logs
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
                "cover",
                stack,
                ordinal,
                (cover.first, cover.last),
                f"Keep {name} covered",
                reasons=clean_reasons(cover.reason),
            )
        share = self._numbers.forced.pins_share
        watch = pull_on + timedelta(days=round(share * (first - pull_on).days))
        if watch < first:
            yield self.all_day(
                "pins",
                stack,
                ordinal,
                (watch, first - _ONE_DAY),
                f"Watch {name} for pins",
                description=f"First pick about {day_words(likely)}.",
            )
        living = self._state.stacks.get(stack)
        seen = living.fruiting_on if living and living.fruiting_on else date.min
        yield self._first_pick(
            stack,
            ordinal,
            entry.pick,
            (first, last),
            seen if seen > soak_on else date.min,
            f"In 8 of 10 weather years the first pick falls within {span_words(first, last)}. "
            f"{self._weight(entry.expected_kg)} expected in all.",
        )

    def _first_pick(
        self,
        stack: str,
        ordinal: int,
        pick: Pick,
        span: tuple[date, date],
        seen: date,
        description: str,
    ) -> Reminder:
        """Return the first pick: to be looked for, or to be picked when it was seen ripe."""
        name, ripe = clean_line(stack), pick.p50 <= seen
        return self.all_day(
            "pick",
            stack,
            ordinal,
            span,
            f"Pick {name}: seen on {day_words(seen)}" if ripe else _look_words(name, pick),
            says_days=not ripe,
            description=f"{description}\n{_PICK_CAUTION}",
        )

    def pull(self, stack: str, ordinal: int, *, logs: int, soaked_on: date, day: date) -> Reminder:
        """Return the reminder to pull the logs from the tank: those that live by now."""
        living = self._state.stacks.get(stack)
        logs = min(logs, living.logs) if living and living.logs else logs
        start = self._at_start(day)
        return self._work(
            "pull",
            stack,
            ordinal,
            (day, logs),
            f"Pull {_soak_words(stack, logs, None)}",
            description=_TANK_CAUTION,
            reasons=(f"in the tank since {day_words(soaked_on)}",),
            alarms=((start.astimezone(UTC) - PULL_NOTICE).astimezone(self._zone),),
        )

    def pull_day(self, soaked_on: date, hours: float | None) -> date:
        """Return the first morning after a recorded soak's hours, or the usual ones, are full."""
        length = timedelta(hours=hours or self._numbers.forced.usual_hours)
        full = self._at_start(soaked_on).astimezone(UTC) + length
        day = full.astimezone(self._zone).date()
        return day if self._at_start(day) >= full else day + _ONE_DAY

    def soaked(self, stack: str, ordinal: int, soak: Soak) -> Reminder:
        """Return a recorded soak."""
        summary = f"Soaked {_soak_words(stack, soak.logs, soak.hours)}"
        return self._work("soak", stack, ordinal, (soak.on, soak.logs), summary, done=True)

    def pulled(self, stack: str, ordinal: int, soak: Soak, pulled_on: date) -> Reminder:
        """Return a recorded pull."""
        summary = f"Pulled {_soak_words(stack, soak.logs, None)}"
        return self._work("pull", stack, ordinal, (pulled_on, soak.logs), summary, done=True)

    def flushes(self, picks: tuple[Picked, ...]) -> tuple[tuple[Picked, ...], ...]:
        """Return picks by the flush they belong to."""
        return picks_by_flush(picks, flush_days=self._numbers.diary.flush_days)

    def picked(self, stack: str, ordinal: int, picks: Sequence[Picked], *, more: bool) -> Reminder:
        """Return what was picked of a flush; while more is to come the last day first."""
        days = sorted({pick.on for pick in picks})
        weights = Weights(sum(pick.kg for pick in picks))
        if more and len(days) > 1:
            latest = sum(pick.kg for pick in picks if pick.on == days[-1])
            weights = replace(weights, latest=latest)
        return self.all_day(
            "pick",
            stack,
            ordinal,
            (days[0], days[-1]),
            _picked_words(stack, weights, days[-1], self._units),
            description="\n".join(
                f"{day_words(pick.on)}: {self._weight(pick.kg)}" for pick in picks
            ),
            done=True,
            weights=weights,
        )

    def seen_fruiting(self, entry: FlushUnderWay) -> Reminder:
        """Return the first pick of a flush that comes by itself and was seen."""
        first, likely, last = pick_days(entry.pick)
        return self._first_pick(
            entry.stack,
            entry.begun.toordinal(),
            entry.pick,
            (first, entry.last if likely <= entry.begun else last),
            entry.begun,
            f"It comes by itself; {self._weight(entry.expected_kg)} expected in all.",
        )

    def still_to_pick(self, entry: FlushUnderWay, first: date, picked_kg: float) -> Reminder:
        """Return what is still to be picked of a flush from a day on; so far it was that much."""
        weights = Weights(picked_kg, entry.expected_kg)
        return self.all_day(
            "picking",
            entry.stack,
            entry.begun.toordinal(),
            (first, entry.last),
            _to_pick_words(entry.stack, weights, self._units),
            description=_PICK_CAUTION,
            reasons=clean_reasons(*entry.reasons),
            weights=weights,
        )

    def all_day(
        self,
        kind: ReminderKind,
        stack: str,
        ordinal: int,
        span: tuple[date, date],
        summary: str,
        **others: Any,
    ) -> Reminder:
        """Return a reminder of whole days, the first and the last of them given."""
        first, last = span
        return self._noted(
            Reminder(kind, stack, ordinal, first, last + _ONE_DAY, summary, **others)
        )

    def _noted(self, draft: Reminder) -> Reminder:
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

    def _work(
        self,
        kind: Literal["soak", "pull"],
        stack: str,
        ordinal: int,
        of: tuple[date, int],
        summary: str,
        **others: Any,
    ) -> Reminder:
        """Return the work on some day on so many logs, in whole quarters of an hour."""
        (day, logs), work = of, self._numbers.work
        hours = logs * (work.soak_hours_per_log if kind == "soak" else work.pull_hours_per_log)
        start = self._at_start(day)
        quarters = max(1, round(hours / _QUARTER_HOURS))
        end = start + timedelta(hours=quarters * _QUARTER_HOURS)
        end = local_time(end.date(), end.time(), self._zone)
        return self._noted(Reminder(kind, stack, ordinal, start, end, summary, **others))

    def _weight(self, kg: float) -> str:
        return format_weight(kg, self._units)


def of_whole_stack(stack: str, lots: Sequence[Reminder], units: Units) -> Reminder:
    """Return what all lots of a stack are asked or have done alike, their weights summed."""
    job = lots[0]
    summary = job.summary.replace(clean_line(job.stack), clean_line(stack), 1)
    whole = replace(job, stack=stack, summary=summary, ordinal=0, description="")
    if job.weights is None:
        return whole
    weights = sum((lot.weights for lot in lots[1:] if lot.weights), job.weights)
    if job.done:
        return replace(
            whole, summary=_picked_words(stack, weights, job.last_day, units), weights=weights
        )
    # How far the lots' luck goes together is not told: no range of the sum.
    picked = format_weight(weights.picked, units)
    in_all = format_weight(weights.picked + weights.to_come, units)
    return replace(
        whole,
        summary=_to_pick_words(stack, weights, units),
        reasons=(f"so far {picked}, about {in_all} in all",),
        weights=weights,
    )


def _picked_words(stack: str, weights: Weights, last: date, units: Units) -> str:
    """Return what was picked of a flush; the last day first where it is told apart."""
    words = format_weight(weights.picked, units)
    if weights.latest:
        latest = format_weight(weights.latest, units)
        words = f"{latest} on {day_words(last)}, {words} of this flush so far"
    return f"Picked {clean_line(stack)}: {words}"


def _to_pick_words(stack: str, weights: Weights, units: Units) -> str:
    kg = format_weight(weights.to_come, units)
    return f"Pick {clean_line(stack)}: about {kg} still to come"


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
