"""What the diary says today: from entries to the state that the planner starts from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from itertools import groupby

from fruitcast.diary.book import Diary
from fruitcast.diary.cold_store import cold_store, losses
from fruitcast.diary.entries import kind_named
from fruitcast.diary.events import Event, in_force
from fruitcast.diary.history import YardHistory
from fruitcast.diary.kept_plan import PLAN, DamagedPlanError, kept_plan
from fruitcast.diary.plan import KeptDate, Plan, PlannedSoak
from fruitcast.diary.state import StackState, YardState
from fruitcast.numbers import default_numbers
from fruitcast.words import day_words
from fruitcast.yard.model import Yard, stack_of


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
    """Return what the diary says on a day, by all entries in the order in which they were written.

    Entries dated after that day are left out, whenever they were recorded; entries dated before
    it count even when they were recorded later. A cancelled entry never happened. `plan` is the
    one last published.
    """
    valid = [event for event in in_force(events) if event.on <= today]
    whole = YardHistory(yard, default_numbers().with_overrides(yard.numbers))
    for event in sorted(valid, key=lambda event: event.on):
        kind_named(event.kind).enter(event, whole)
    states = {name: history.state(today) for name, history in whole.by_name.items()}
    learned = losses(yard, valid)
    on_hand, _ = cold_store(
        valid, saleable=learned.share, keeps_days=yard.cold_store_days, today=today
    )
    good = sorted((b for b in on_hand if not b.grade), key=lambda batch: batch.picked_on)
    by_day = groupby(good, lambda batch: batch.picked_on)
    notes = [note for history in whole.by_name.values() for note in history.notes]
    return YardState(
        stacks=states,
        lot_of={name: history.row for name, history in whole.by_name.items()},
        stock=tuple((day, sum(batch.kg for batch in batches)) for day, batches in by_day),
        losses=learned,
        rain_gauge=whole.rain_gauge,
        published=published_soaks(plan.soaks, states, today) if plan else {},
        accepted=whole.accepted,
        promised=tuple(
            (outlet, day, kg) for (outlet, day), kg in whole.promised.items() if day >= today
        ),
        notes=(*whole.unknown_notes(), *notes),
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

    `planned` are the names of all that it was made for.
    """
    now: dict[str, set[str]] = {}
    for name, row in state.lot_of.items():
        if state.stacks[name].logs:
            now.setdefault(row, set()).add(name)
    then: dict[str, set[str]] = {}
    for name in planned:
        row = name if name in now else state.lot_of.get(name, stack_of(name))
        then.setdefault(row, set()).add(name)
    return frozenset(name for row, names in now.items() if then.get(row) != names for name in names)


def released(plan: Plan | None, state: YardState) -> frozenset[str]:
    """Return the stacks whose day was the grower's in a plan and is the plan's to choose again.

    A soak done within `EARLY_DAYS` of that day, or later, has kept the word; no release has.
    """
    found = set()
    for soak in plan.soaks if plan is not None else ():
        stack = state.stacks.get(soak.stack)
        if soak.fixed and stack is not None and stack.fixed is None:
            early = soak.soak_on - timedelta(days=EARLY_DAYS)
            if stack.last_soak is None or stack.last_soak.on < early:
                found.add(soak.stack)
    return frozenset(found)
