"""What the diary says today: from entries to the state that the planner starts from."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from fruitcast.numbers import Numbers, default_numbers
from fruitcast.yard.cold_store import cold_store
from fruitcast.yard.diary import Diary
from fruitcast.yard.events import (
    FRUITING,
    INSPECT,
    MERGE,
    MOVE,
    PICK,
    PINS,
    PULL,
    RAIN,
    RETIRE,
    SOAK,
    SPLIT,
    WATER,
    WEIGH,
    Event,
    in_force,
)
from fruitcast.yard.kept_documents import PLAN
from fruitcast.yard.kept_plan import DamagedPlanError, kept_plan
from fruitcast.yard.lots import lots_of
from fruitcast.yard.model import Stack, Yard
from fruitcast.yard.stack_history import StackHistory
from fruitcast.yard.state import StackState, YardState

CONFIRMED = "confirmed"
"""A pick whose note has this word is right, however odd it looks."""


def read_yard_state(yard: Yard, today: date) -> YardState:
    """Return the state of a yard from its diary's file; an empty one when there is none.

    The published plan is that of an earlier day: what is planned again today is held against
    what the grower went by until today, so that planning twice gives the same plan.
    """
    yesterday = today - timedelta(days=1)
    with Diary(yard.diary_file) as diary:
        text, events = diary.latest_document(PLAN, as_of=yesterday), diary.events()
    try:
        plan = kept_plan(text) if text else None
    except DamagedPlanError:
        plan = None  # as good as none; `app.known` tells of it
    return yard_state(yard, events, today, plan)


def yard_state(
    yard: Yard,
    events: Sequence[Event],
    today: date,
    plan: Mapping[str, Any] | None = None,
) -> YardState:
    """Return what the diary says on a day.

    Entries dated after that day are left out, whenever they were recorded; entries dated
    before it count even when they were recorded later. A cancelled entry never happened.

    Parameters
    ----------
    yard : Yard
        Stacks, tank and cold store.
    events : sequence of Event
        All entries in the order in which they were written.
    today : date
        The day.
    plan : mapping or None
        The plan last published.
    """
    valid = [event for event in in_force(events) if event.on <= today]
    book = _Book(yard, default_numbers().with_overrides(yard.numbers))
    for event in sorted(valid, key=lambda event: event.on):
        book.enter(event)
    states = {name: history.state(today) for name, history in book.histories.items()}
    on_hand, _ = cold_store(
        valid, saleable=yard.saleable, keeps_days=yard.cold_store_days, today=today
    )
    by_day = groupby(sorted(on_hand, key=lambda batch: batch.picked_on), lambda b: b.picked_on)
    notes = [note for history in book.histories.values() for note in history.notes]
    return YardState(
        stacks=states,
        lot_of={name: history.row for name, history in book.histories.items()},
        stock=tuple((day, sum(batch.kg for batch in batches)) for day, batches in by_day),
        rain_gauge={event.on: event.mm or 0.0 for event in valid if event.kind == RAIN},
        published=published_soaks(plan, states, today) if plan else {},
        notes=(*book.unknown_notes(), *notes),
    )


def published_soaks(
    plan: Mapping[str, Any], states: Mapping[str, StackState], today: date
) -> dict[str, date]:
    """Return the next soak of each stack in a published plan that is not past or done."""
    soaks = [(soak["stack"], date.fromisoformat(soak["soak_on"])) for soak in plan["soaks"]]
    coming: dict[str, date] = {}
    for stack, on in sorted(soaks, key=lambda soak: soak[1]):
        state = states.get(stack)
        if state is None or on < today or (state.last_soak and on <= state.last_soak.on):
            continue
        coming.setdefault(stack, on)
    return coming


def unplanned(plan: Mapping[str, Any], state: YardState) -> frozenset[str]:
    """Return the stacks and lots that a published plan knew nothing of, or parted otherwise.

    Parameters
    ----------
    plan : mapping
        `stacks`, the names of all that it was made for.
    state : YardState
        What stands in the yard now.
    """
    now: dict[str, set[str]] = {}
    for name, row in state.lot_of.items():
        if state.stacks[name].logs:
            now.setdefault(row, set()).add(name)
    then: dict[str, set[str]] = {}
    for name in plan["stacks"]:
        row = name if name in now else state.lot_of.get(name, name.rpartition("/")[0])
        then.setdefault(row, set()).add(name)
    return frozenset(name for row, names in now.items() if then.get(row) != names for name in names)


class _Book:
    """All stacks while the entries go in."""

    def __init__(self, yard: Yard, numbers: Numbers) -> None:
        self.logs_at_once = yard.soaking.logs_at_once
        self.rows = {stack.name: stack for stack in yard.stacks}
        self.numbers = numbers
        self.histories: dict[str, StackHistory] = {}
        self._by_base: dict[str, list[StackHistory]] = {}
        self._unknown: dict[str, int] = {}
        for stack in yard.stacks:
            self._begin(stack.name, stack, stack.logs)
        self._enter: dict[str, Callable[[Event, list[StackHistory]], None]] = {
            SOAK: _soak,
            PULL: _pull,
            PICK: _pick,
            PINS: _pins,
            FRUITING: _fruiting,
            WATER: self._water,
            WEIGH: _weigh,
            INSPECT: _inspect,
            MOVE: _move,
            RETIRE: _retire,
            SPLIT: self._split,
            MERGE: self._merge,
        }

    def enter(self, event: Event) -> None:
        """Let one entry change the stacks it concerns; entries come in order of date."""
        enter = self._enter.get(event.kind)
        if enter is None:
            return
        histories = self.named(event.stack) if event.stack else list(self.histories.values())
        if histories:
            enter(event, histories)
        else:
            self._unknown[event.stack] = self._unknown.get(event.stack, 0) + 1

    def named(self, name: str) -> list[StackHistory]:
        """Return the stack or lot of a name, or all lots of a stack, those with logs if any."""
        if name in self.histories:
            return [self.histories[name]]
        # A lot of a division that no longer holds (another tank) stands for its whole stack.
        lots = self._by_base.get(name) or self._by_base.get(name.rpartition("/")[0], [])
        return [lot for lot in lots if lot.logs] or list(lots)

    def unknown_notes(self) -> tuple[str, ...]:
        """Return a sentence for each stack in the diary that the yard does not have."""
        return tuple(
            f"{name}: {count} diary {'entry' if count == 1 else 'entries'} left out, the stack is "
            "not in stacks.csv. Put its row back, or leave it if the stack is gone"
            for name, count in sorted(self._unknown.items())
        )

    def _begin(self, name: str, row: Stack, logs: int) -> list[StackHistory]:
        lots = [
            StackHistory(
                lot, name, row.name, lot_logs, row.diameter * row.length, numbers=self.numbers
            )
            for lot, lot_logs in lots_of(name, logs, self.logs_at_once)
        ]
        self._by_base[name] = lots
        self.histories.update({lot.name: lot for lot in lots})
        return lots

    def _water(self, event: Event, histories: list[StackHistory]) -> None:
        mm = event.mm
        if mm is None and event.litres is not None:
            area = sum(history.logs * history.area_per_log for history in histories)
            mm = event.litres / area if area else 0.0
        if mm is None:
            mm = self.numbers.diary.usual_watering
        for history in histories:
            history.watered.append((event.on, mm))

    def _split(self, event: Event, histories: list[StackHistory]) -> None:
        there = sum(history.logs for history in histories)
        wanted = min(event.logs or 0, there)
        if event.logs != wanted:
            histories[0].notes.append(
                f"{event.stack}: the split of {event.on} wants {event.logs} logs, "
                f"{there} were there"
            )
        targets = self.named(event.into)
        if not targets:
            targets = self._begin(event.into, self.rows[histories[0].row], wanted)
            for target in targets:
                target.logs = 0
        for history, logs in zip(histories, _shared(wanted, histories), strict=True):
            _hand_over(history, logs, targets)

    def _merge(self, event: Event, histories: list[StackHistory]) -> None:
        targets = [target for target in self.named(event.into) if target not in histories]
        if not targets:
            self._unknown[event.into] = self._unknown.get(event.into, 0) + 1
            return
        for history in histories:
            _hand_over(history, history.logs, targets)


def _hand_over(history: StackHistory, logs: int, targets: list[StackHistory]) -> None:
    """Give logs to the lots of a stack: by their size, or evenly when it is new."""
    empty = not any(target.logs for target in targets)
    shares = _even(logs, len(targets)) if empty else _shared(logs, targets)
    for target, share in zip(targets, shares, strict=True):
        history.give(share, target)


def _soak(event: Event, histories: list[StackHistory]) -> None:
    wanted = [h.logs for h in histories] if event.logs is None else _shared(event.logs, histories)
    for history, logs in zip(histories, wanted, strict=True):
        if logs:
            history.soak(event.on, min(logs, history.logs), event.hours)


def _pull(event: Event, histories: list[StackHistory]) -> None:
    in_water = [history for history in histories if history.in_water]
    for history in in_water or histories:
        history.pull(event.on)


def _pick(event: Event, histories: list[StackHistory]) -> None:
    kg = event.kg or 0.0
    logs = sum(history.logs for history in histories)
    confirmed = CONFIRMED in re.findall(r"\w+", event.note.casefold())
    for history in histories:
        share = history.logs / logs if logs else 1 / len(histories)
        history.pick(event.on, kg * share, confirmed=confirmed)


def _pins(event: Event, histories: list[StackHistory]) -> None:
    for history in histories:
        history.pins_on = event.on


def _fruiting(event: Event, histories: list[StackHistory]) -> None:
    for history in histories:
        history.see_fruiting(event.on)


def _weigh(event: Event, histories: list[StackHistory]) -> None:
    for history in histories:
        history.weigh(event.on, event.sample, event.kg or 0.0, event.start_kg, event.moisture_wet)


def _inspect(event: Event, histories: list[StackHistory]) -> None:
    for history, dead in zip(histories, _shared(event.logs or 0, histories), strict=True):
        history.inspect(event.on, event.findings, dead)


def _move(event: Event, histories: list[StackHistory]) -> None:
    for history in histories:
        history.place = event.into


def _retire(event: Event, histories: list[StackHistory]) -> None:
    wanted = [h.logs for h in histories] if event.logs is None else _shared(event.logs, histories)
    for history, logs in zip(histories, wanted, strict=True):
        history.lose(event.on, logs)


def _shared(logs: int, histories: Sequence[StackHistory]) -> list[int]:
    """Divide a number of logs among lots in proportion to their living logs, in whole logs."""
    total = sum(history.logs for history in histories)
    if not total:
        return _even(logs, len(histories))
    exact = [logs * history.logs / total for history in histories]
    return _whole(exact, logs)


def _even(logs: int, parts: int) -> list[int]:
    return _whole([logs / parts] * parts, logs)


def _whole(exact: Iterable[float], total: int) -> list[int]:
    """Round to whole numbers that add up to the total, the largest remainders upwards."""
    values = list(exact)
    whole = [int(value) for value in values]
    order = sorted(range(len(values)), key=lambda i: whole[i] - values[i])
    for i in order[: total - sum(whole)]:
        whole[i] += 1
    return whole
