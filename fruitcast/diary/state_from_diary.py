"""What the diary says today: from entries to the state that the planner starts from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from itertools import count, groupby, islice

from fruitcast.diary.book import Diary
from fruitcast.diary.cold_store import cold_store, losses
from fruitcast.diary.entries import kind_named
from fruitcast.diary.events import Event, in_force
from fruitcast.diary.kept_plan import PLAN, DamagedPlanError, kept_plan
from fruitcast.diary.plan import KeptDate, Plan, PlannedSoak
from fruitcast.diary.stack_history import StackHistory, in_parts, joined
from fruitcast.diary.state import StackState, YardState
from fruitcast.numbers import Numbers, default_numbers
from fruitcast.words import day_words
from fruitcast.yard.model import SEPARATOR, Stack, Yard, lots_of


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
    plan: Plan | None = None,
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
    plan : Plan or None
        The plan last published.
    """
    valid = [event for event in in_force(events) if event.on <= today]
    book = Book(yard, default_numbers().with_overrides(yard.numbers))
    for event in sorted(valid, key=lambda event: event.on):
        kind_named(event.kind).enter(event, book)
    states = {name: history.state(today) for name, history in book.histories.items()}
    learned = losses(yard, valid)
    on_hand, _ = cold_store(
        valid, saleable=learned.share, keeps_days=yard.cold_store_days, today=today
    )
    good = sorted((b for b in on_hand if not b.grade), key=lambda batch: batch.picked_on)
    by_day = groupby(good, lambda batch: batch.picked_on)
    notes = [note for history in book.histories.values() for note in history.notes]
    return YardState(
        stacks=states,
        lot_of={name: history.row for name, history in book.histories.items()},
        stock=tuple((day, sum(batch.kg for batch in batches)) for day, batches in by_day),
        seconds_kg=sum(batch.kg for batch in on_hand if batch.grade),
        losses=learned,
        rain_gauge=book.rain_gauge,
        published=published_soaks(plan.soaks, states, today) if plan else {},
        accepted=book.accepted,
        promised=tuple(
            (outlet, day, kg) for (outlet, day), kg in book.promised.items() if day >= today
        ),
        notes=(*book.unknown_notes(), *notes),
    )


def published_soaks(
    soaks: Iterable[PlannedSoak | KeptDate], states: Mapping[str, StackState], today: date
) -> dict[str, date]:
    """Return the next of published soaks of each stack that is not past or done."""
    coming: dict[str, date] = {}
    for soak in sorted(soaks, key=lambda soak: soak.soak_on):
        stack, on = soak.stack, soak.soak_on
        state = states.get(stack)
        if state is None or on < today or (state.last_soak and on <= state.last_soak.on):
            continue
        coming.setdefault(stack, on)
    return coming


ASKED_DAYS, EARLY_DAYS = 28, 7
"""A published soak is asked after for so long, and was done if one was up to so much earlier.
[day]"""


def left_undone(
    soaks: Iterable[PlannedSoak | KeptDate], states: Mapping[str, StackState], today: date
) -> list[str]:
    """Return a question for the published soaks of the last weeks that nobody recorded."""
    early, asked = timedelta(days=EARLY_DAYS), today - timedelta(days=ASKED_DAYS)
    due: dict[date, list[str]] = {}
    for soak in sorted(soaks, key=lambda soak: (soak.soak_on, soak.stack)):
        state, on = states.get(soak.stack), soak.soak_on
        if state is None or not state.logs or state.held_since or not asked <= on < today:
            continue
        if not any(done.on >= on - early for done in state.soaks):
            due.setdefault(on, []).append(soak.stack)
    return [
        f"{' and '.join(names)}: planned to be soaked on {day_words(on)}, and no soak is recorded. "
        f"If it was done, 'fruitcast record soaked {names[0]} on {on}' says so; if not, it is "
        "planned anew."
        for on, names in due.items()
    ]


def unplanned(planned: Iterable[str], state: YardState) -> frozenset[str]:
    """Return the stacks and lots that a published plan knew nothing of, or parted otherwise.

    Parameters
    ----------
    planned : iterable of str
        The names of all that it was made for.
    state : YardState
        What stands in the yard now.
    """
    now: dict[str, set[str]] = {}
    for name, row in state.lot_of.items():
        if state.stacks[name].logs:
            now.setdefault(row, set()).add(name)
    then: dict[str, set[str]] = {}
    for name in planned:
        row = name if name in now else state.lot_of.get(name, name.rpartition("/")[0])
        then.setdefault(row, set()).add(name)
    return frozenset(name for row, names in now.items() if then.get(row) != names for name in names)


class Book:
    """All stacks while the entries go in."""

    def __init__(self, yard: Yard, numbers: Numbers) -> None:
        self.logs_at_once = yard.logs_at_once
        self.lots_by_settings = yard.soaking.lot_logs is not None
        self.rows = {stack.name: stack for stack in yard.stacks}
        self.numbers = numbers
        self.histories: dict[str, StackHistory] = {}
        self.accepted: dict[str, date] = {}
        self.rain_gauge: dict[date, float] = {}
        self.promised: dict[tuple[str, date], float] = {}
        self._by_base: dict[str, list[StackHistory]] = {}
        self._unknown: dict[str, int] = {}
        for stack in yard.stacks:
            self.begin(stack.name, stack, stack.logs)

    def concerned(self, name: str) -> list[StackHistory]:
        """Return the stack or lots of a name, all without one; a stack that is gone is noted."""
        histories = self.named(name) if name else list(self.histories.values())
        if not histories:
            self.miss(name)
        return histories

    def miss(self, name: str) -> None:
        """Note an entry of a stack that the yard does not have."""
        self._unknown[name] = self._unknown.get(name, 0) + 1

    def named(self, name: str) -> list[StackHistory]:
        """Return the stack or lot of a name, or all lots of a stack, those with logs if any."""
        if name in self.histories:
            return [self.histories[name]]
        # A lot of a division that no longer holds (another tank) stands for its whole stack.
        lots = self._by_base.get(name) or self._by_base.get(name.rpartition("/")[0], [])
        return [lot for lot in lots if lot.logs] or list(lots)

    def part(self, name: str, number: int, on: date) -> None:
        """Part a stack into so many lots, 1 for whole; logs that rested alike are regrouped."""
        if self.lots_by_settings:
            return  # the grower's own lot_logs says it
        before = self._by_base.get(name, [])
        logs = sum(lot.logs for lot in before)
        if not logs:
            self.miss(name)
            return
        alike: dict[tuple[object, ...], list[StackHistory]] = {}
        for lot in before:
            if lot.logs:
                alike.setdefault(lot.soaked, []).append(lot)
        least = max(len(alike), -(-logs // self.logs_at_once))
        if number < len(alike):
            before[0].notes.append(
                f"{name}: the entry of {on} on its lots is left out, its logs did not rest alike. "
                "Record it again when they have been soaked together"
            )
            return
        gone = [lot for lot in before if not lot.logs]
        groups = [
            joined([*lots, *gone] if not n else lots) for n, lots in enumerate(alike.values())
        ]
        sizes = in_parts(max(number, least), [group.logs for group in groups])
        names = self._lot_names(name, list(alike.values()), sizes)
        lots = [
            lot for group, mine in zip(groups, names, strict=True) for lot in group.parted(mine)
        ]
        lots.sort(key=lambda lot: lot.name)
        self._by_base[name] = lots
        found: dict[str, StackHistory] = {}
        for other, history in self.histories.items():
            if history is before[0]:
                found.update({lot.name: lot for lot in lots})
            elif not any(history is lot for lot in before):
                found[other] = history
        self.histories = found
        self.accepted = {lot: day for lot, day in self.accepted.items() if lot in found}
        if number > 1:
            self.accepted.update({lot.name: on for lot in lots})

    @staticmethod
    def _lot_names(
        stack: str, groups: Sequence[Sequence[StackHistory]], sizes: Sequence[int]
    ) -> list[list[str]]:
        """Return names for the lots made of each group: those it had, then new ones."""
        if sum(sizes) == 1:
            return [[stack]]
        kept = [
            [lot.name for lot in group if SEPARATOR in lot.name][:size]
            for group, size in zip(groups, sizes, strict=True)
        ]
        taken = {name for names in kept for name in names}
        free = (name for n in count(1) if (name := f"{stack}{SEPARATOR}{n}") not in taken)
        return [
            names + list(islice(free, size - len(names)))
            for names, size in zip(kept, sizes, strict=True)
        ]

    def unknown_notes(self) -> tuple[str, ...]:
        """Return a sentence for each stack in the diary that the yard does not have."""
        return tuple(
            f"{name}: {count} diary {'entry' if count == 1 else 'entries'} left out, the stack is "
            "not in stacks.csv. Put its row back, or leave it if the stack is gone"
            for name, count in sorted(self._unknown.items())
        )

    def begin(self, name: str, row: Stack, logs: int) -> list[StackHistory]:
        """Begin a stack, in lots where it does not fit the tank."""
        lots = [
            StackHistory(
                lot, name, row.name, lot_logs, row.diameter * row.length, self.numbers.diary
            )
            for lot, lot_logs in lots_of(name, logs, self.logs_at_once)
        ]
        self._by_base[name] = lots
        self.histories.update({lot.name: lot for lot in lots})
        return lots
