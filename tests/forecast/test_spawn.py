"""When a stack is through its spawn run: seen, modelled, with a range over weather and wood."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.schedule.answer_state import spawn_run_entries
from fruitcast.shiitake.spawn_run import SLOW_CAUSES
from fruitcast.yard.events import Event
from fruitcast.yard.state import Pick, StackState
from fruitcast.yard.state_from_diary import yard_state
from tests.forecast.yards import NUMBERS, TODAY, look, stack, state_of, yard
from tests.weather.tables import steady

BORN = date(2026, 6, 5)


def run_of(state: StackState | None = None, row=None, **options):
    row = row or stack(inoculated=BORN)
    given = () if state is None else (replace(state, name=row.name),)
    keep = options.pop("keep_above", 0.35)
    outlook = look(yard(row, keep_above=keep), *given, weeks=26, **options)
    return outlook.stacks[0].spawn


def holds_of(state: StackState | None = None, row=None, **options):
    row = row or stack(inoculated=BORN)
    outlook = look(yard(row), *(() if state is None else (state,)), weeks=26, **options)
    return {hold.cause: hold.until for hold in outlook.stacks[0].holds}


def seen(*findings: str, on: date = date(2027, 4, 20), logs: int | None = None) -> StackState:
    """The state after an inspection, by way of the diary."""
    made = yard(stack(inoculated=BORN))
    event = Event("inspect", on, stack="A", findings=findings, logs=logs)
    return yard_state(made, [event], TODAY).stacks["A"]


def test_a_young_stack_has_a_range_of_ready_dates_in_order():
    run = run_of()
    assert 0 < run.progress < 1
    assert run.ready_on is None and not run.seen
    assert TODAY <= run.early <= run.middle <= run.late
    assert 14 <= (run.late - run.early).days <= 200
    assert len(set(run.rows.tolist())) > 5


def test_the_range_is_over_wood_as_well_as_weather():
    # Where every year is alike, only the logs differ.
    weather = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=10, tmax=20, rain=4.0)
    born = stack(inoculated=date(2026, 11, 1))
    one_year = run_of(row=born, weather=weather)
    assert one_year.early < one_year.middle < one_year.late
    same_wood = NUMBERS.with_overrides({"spawn_run.scatter": 0.0})
    certain = run_of(row=born, weather=weather, numbers=same_wood)
    assert certain.early == certain.middle == certain.late == one_year.middle


def test_no_soak_before_four_of_five_futures_have_it_done():
    run = run_of()
    outlook = look(yard(stack(inoculated=BORN)), weeks=26)
    sure = outlook.futures.date(run.sure_row)
    assert run.middle <= sure <= run.late
    assert holds_of()["spawn run"] == sure
    hasty = NUMBERS.with_overrides({"schedule.ready_chance": 0.5})
    assert holds_of(numbers=hasty)["spawn run"] == run.middle


def test_white_ends_bring_the_date_forward():
    plain, found = run_of(), run_of(seen("white ends"))
    assert found.middle < plain.middle
    assert found.progress >= NUMBERS.spawn_run.white_ends_share > plain.progress
    assert not found.seen


def test_an_inspection_that_finds_it_done_ends_the_spawn_run():
    run = run_of(seen("spawn run done", on=date(2027, 4, 20)))
    assert run.seen
    assert run.ready_on == date(2027, 4, 20)
    assert "spawn run" not in holds_of(seen("spawn run done"))
    # The published year from inoculation still holds.
    assert holds_of(seen("spawn run done"))["first year"] == date(2027, 6, 5)


def test_competitor_moulds_put_the_date_back_until_an_inspection_finds_none():
    plain, found = run_of(), run_of(seen("competitor moulds"))
    assert found.middle > plain.middle
    assert found.progress < plain.progress
    assert run_of(seen("healthy")).middle == plain.middle


def test_dead_logs_lower_the_number_of_living_ones():
    state = seen("dead logs", logs=5)
    outlook = look(yard(stack(inoculated=date(2024, 4, 25))), state)
    whole = look(yard(stack(inoculated=date(2024, 4, 25))))
    assert outlook.stacks[0].state.logs == 19
    assert outlook.stacks[0].scale == pytest.approx(whole.stacks[0].scale * 19 / 24)


def test_mushrooms_seen_late_do_not_make_an_old_stack_young():
    """The first natural flush written down is often years after the first one there was."""
    old = stack(inoculated=date(2022, 4, 25))
    pick = Pick(date(2027, 4, 28), 1.0, "natural")
    state = StackState("A", 24, picks=(pick,), natural_seen_on=pick.on)
    plain, found = run_of(row=old), run_of(state, row=old)
    assert found.seen and found.ready_on == plain.ready_on < date(2024, 1, 1)
    years = [look(yard(old), *given).stacks[0].bearing_year for given in ((), (state,))]
    assert years[0] == years[1] == 5


def test_mushrooms_seen_early_prove_it_done():
    pick = Pick(date(2027, 4, 28), 1.0, "natural")
    found = run_of(StackState("A", 24, picks=(pick,), natural_seen_on=pick.on))
    assert found.ready_on == date(2027, 4, 28)
    assert found.progress == 1


def test_a_stack_older_than_the_account_is_taken_as_done_after_a_year():
    run = run_of(row=stack(inoculated=date(2019, 4, 25)))
    assert run.ready_on == date(2020, 4, 24)
    assert not run.seen and run.progress == 1


@pytest.mark.parametrize("days", [-1, 0, 1, 30])
def test_a_stack_inoculated_about_today_or_later_has_its_whole_run_ahead(days):
    run = run_of(row=stack(inoculated=TODAY + timedelta(days=days)))
    assert run.progress == pytest.approx(0, abs=0.01)
    assert run.ready_on is None
    assert run.slowed_by == ()
    later = run_of(row=stack(inoculated=TODAY + timedelta(days=days + 40)))
    assert np.median(later.rows) >= np.median(run.rows)


def test_dry_logs_are_slower_and_the_cause_is_named():
    weather = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=16, tmax=28, rain=0.0)
    born = stack(inoculated=date(2026, 12, 1))
    moist = run_of(row=born, weather=weather)
    dry = run_of(row=born, weather=weather, keep_above=None)
    assert dry.progress < moist.progress
    assert "dry" in dry.slowed_by and "dry" not in moist.slowed_by


def test_cold_plugs_and_thick_logs_are_named():
    winter = run_of(row=stack(inoculated=BORN, spawn="plug", diameter=0.22))
    assert set(winter.slowed_by) == {"cold", "thick", "plugs"}
    assert winter.slowed_by == tuple(c for c in SLOW_CAUSES if c in winter.slowed_by)


def test_plugs_and_thick_logs_are_later():
    plain = run_of()
    for slower in ({"spawn": "plug"}, {"diameter": 0.2}, {"strain_class": "cold-weather"}):
        assert run_of(row=stack(inoculated=BORN, **slower)).middle >= plain.middle


def test_the_plan_s_document_tells_progress_range_causes_and_signs():
    made = yard(stack(inoculated=BORN), stack("B", date(2022, 4, 1)))
    outlook = look(made, weeks=26)
    entries = spawn_run_entries(outlook)
    assert [entry["stack"] for entry in entries] == ["A"]
    entry = entries[0]
    assert 0 < entry["progress"] < 1
    assert entry["ready"]["p10"] <= entry["ready"]["p50"] <= entry["ready"]["p90"]
    assert entry["slowed_by"] == ["cool weather"]
    assert any("white mycelium" in sign for sign in entry["signs"])


def test_a_range_past_the_days_looked_at_is_not_made_up():
    run = run_of(row=stack(inoculated=TODAY + timedelta(days=150)))
    assert run.middle is None and run.late is None
    assert (run.rows >= look(yard(), weeks=26).futures.days).all()
    assert holds_of(row=stack(inoculated=TODAY + timedelta(days=150)))["spawn run"] is None


def test_in_the_south_spawn_runs_through_its_own_summer():
    # The same weather half a year apart: the same progress, in either hemisphere.
    weather = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=10, tmax=20, rain=4.0)
    row = stack(inoculated=date(2026, 11, 1))
    north = look(yard(row), weather=weather).stacks[0].spawn
    south = look(yard(row, latitude=-42.6), weather=weather).stacks[0].spawn
    assert south.middle == north.middle


def test_the_state_of_the_diary_reaches_the_spawn_run():
    made = yard(stack(inoculated=BORN))
    events = [
        Event("inspect", date(2027, 3, 20), stack="A", findings=("white ends",)),
        Event("inspect", date(2027, 4, 20), stack="A", findings=("competitor moulds",), logs=2),
    ]
    state = yard_state(made, events, TODAY)
    assert state_of(made).stacks["A"] != state.stacks["A"]
    run = look(made, state.stacks["A"], weeks=26).stacks[0].spawn
    # The white ends stay known, and the moulds count too.
    only_moulds = run_of(seen("competitor moulds"))
    assert run.middle < only_moulds.middle
