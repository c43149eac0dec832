"""The sample yard's diary fits its stacks and could have been recorded day by day."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.events import UNDO, in_force
from fruitcast.diary.limits import Limits, Say
from fruitcast.diary.recording import objections_to
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.diary.tables import export_csv, import_csv, year_end
from fruitcast.numbers import default_numbers
from fruitcast.yard.reading import read_yard
from tests.diary.diary_samples import NOW

SAMPLE = Path(__file__).parents[2] / "sample_data"
TODAY = date(2027, 5, 3)


@pytest.fixture(scope="module")
def sample_yard():
    return read_yard(SAMPLE, TODAY)


@pytest.fixture(scope="module")
def events():
    return import_csv((SAMPLE / "diary.csv").read_bytes(), "diary.csv")


def test_it_goes_into_a_diary_and_comes_out_the_same(tmp_path, events):
    with Diary(tmp_path / "diary.db") as diary:
        diary.add(events, NOW)
    assert read_events(tmp_path / "diary.db") == events
    written = export_csv(events).decode("utf-8-sig").replace("\r\n", "\n")
    assert written == (SAMPLE / "diary.csv").read_text(encoding="utf-8")


def test_all_of_it_is_past_and_written_down_in_order(events):
    assert max(event.on for event in events) < TODAY
    assert all(a.recorded_at <= b.recorded_at for a, b in pairwise(events))
    assert all(event.on <= event.recorded_at.date() for event in events)


def test_no_record_would_have_been_doubted(sample_yard, events):
    valid = in_force(events)
    assert {event.kind for event in events} - {event.kind for event in valid} == {UNDO}
    for number, event in enumerate(valid):
        stacks = yard_state(sample_yard, valid[:number], event.on).stacks
        concerned = [
            state for name, state in stacks.items() if event.stack in (name, name.partition("/")[0])
        ]
        assert bool(concerned) == bool(event.stack)
        limits = Limits(Say("us"), default_numbers(), stacks, event.on, concerned=concerned)
        assert not objections_to(event, limits), event


def test_it_leaves_nothing_to_put_right_and_something_of_everything(sample_yard, events):
    state = yard_state(sample_yard, events, TODAY)
    assert state.notes == ()
    assert not any(stack.in_tank for stack in state.stacks.values())
    assert state.stacks["D/1"].pins_on is not None
    assert state.stacks["B"].logs < next(s.logs for s in sample_yard.stacks if s.name == "B")
    assert state.stacks["L"].spawn_run_seen_on and not state.stacks["M/1"].spawn_run_seen_on
    assert state.stock
    assert {pick.kind for stack in state.stacks.values() for pick in stack.picks} == {
        "forced",
        "natural",
    }


def test_soaks_keep_the_yards_own_rules(sample_yard, events):
    rows = {stack.name: stack for stack in sample_yard.stacks}
    state = yard_state(sample_yard, events, TODAY)
    in_tank: dict[date, int] = {}
    for name, stack in state.stacks.items():
        row = rows[state.lot_of[name]]
        for before, after in pairwise(stack.soaks):
            assert (after.on - before.on).days >= 63
        for soak in stack.soaks:
            assert soak.on.weekday() in sample_yard.soaking.days
            assert (soak.on - row.inoculated).days >= 365
            assert soak.pulled_on is not None
            for n in range((soak.pulled_on - soak.on).days):
                day = soak.on + timedelta(days=n)
                in_tank[day] = in_tank.get(day, 0) + soak.logs
    assert max(in_tank.values()) <= sample_yard.soaking.tank_logs


def test_the_year_is_plausible(sample_yard, events):
    (everything,) = (row for row in year_end(sample_yard, events, 2026) if row.group == "all")
    assert 0.1 < everything.kg_per_log < 0.4
    assert 6 <= everything.days_to_pick <= 17
