"""When a stack is through its spawn run: seen, modelled, with a range over weather and wood."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest

from fruitcast.biology.spawn_run import SLOW_CAUSES
from fruitcast.diary.events import Event
from fruitcast.diary.state import Pick, StackState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.soaks.answer_parts import spawn_run_entries
from tests.drawn import stride
from tests.forecast.yards import (
    NUMBERS,
    TODAY,
    look,
    stack,
    state_of,
    yard,
    years_of_weather,
)
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
    assert TODAY <= run.ready.p10 <= run.ready.p50 <= run.ready.p80 <= run.ready.p90
    assert 14 <= (run.ready.p90 - run.ready.p10).days <= 200
    assert len(set(run.rows.tolist())) > 5


def test_the_range_is_over_wood_as_well_as_weather():
    # Where every year is alike, only the logs differ.
    weather = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=10, tmax=20, rain=4.0)
    born = stack(inoculated=date(2026, 11, 1))
    one_year = run_of(row=born, weather=weather)
    assert one_year.ready.p10 < one_year.ready.p50 < one_year.ready.p90
    same_wood = NUMBERS.with_overrides({"spawn_run.scatter": 0.0})
    certain = run_of(row=born, weather=weather, numbers=same_wood)
    assert certain.ready.p10 == certain.ready.p50 == certain.ready.p90 == one_year.ready.p50


def test_no_soak_before_four_of_five_futures_have_it_done():
    run = run_of()
    outlook = look(yard(stack(inoculated=BORN)), weeks=26)
    sure = outlook.futures.date(run.sure_row)
    assert run.ready.p50 <= sure <= run.ready.p90
    assert holds_of()["spawn run"] == sure
    hasty = NUMBERS.with_overrides({"schedule.ready_chance": 0.5})
    assert holds_of(numbers=hasty)["spawn run"] == run.ready.p50


def test_white_ends_bring_the_date_forward():
    plain, found = run_of(), run_of(seen("white ends"))
    assert found.ready.p50 < plain.ready.p50
    assert found.progress >= NUMBERS.spawn_run.white_ends_share > plain.progress
    assert not found.seen


def test_an_inspection_that_finds_it_done_ends_the_spawn_run():
    run = run_of(seen("spawn run done", on=date(2027, 4, 20)))
    assert run.seen
    assert run.ready_on == date(2027, 4, 20)
    assert "spawn run" not in holds_of(seen("spawn run done"))
    # The published year from inoculation still holds.
    assert holds_of(seen("spawn run done"))["first year"] == date(2027, 6, 5)


def test_a_run_that_was_over_on_an_earlier_day_still_is():
    made = yard(stack(inoculated=BORN))
    over, going = look(made, seen("spawn run done", on=date(2027, 4, 20))), look(made)
    runs = [look(made, before=before).stacks[0].spawn for before in (over, going)]
    assert runs[0].over and runs[0].seen and runs[0].ready_on == date(2027, 4, 20)
    assert set(runs[0].rows.tolist()) == {over.stacks[0].spawn.sure_row}
    assert not runs[1].over and runs[1].rows.tolist() == going.stacks[0].spawn.rows.tolist()


def test_competitor_moulds_put_the_date_back_until_an_inspection_finds_none():
    plain, found = run_of(), run_of(seen("competitor moulds"))
    assert found.ready.p50 > plain.ready.p50
    assert found.progress < plain.progress
    assert run_of(seen("healthy")).ready.p50 == plain.ready.p50


def test_dead_logs_lower_the_number_of_living_ones():
    state = seen("dead logs", logs=5)
    outlook = look(yard(stack(inoculated=date(2024, 4, 25))), state)
    whole = look(yard(stack(inoculated=date(2024, 4, 25))))
    assert outlook.stacks[0].state.logs == 19
    assert outlook.stacks[0].effective_logs == pytest.approx(
        whole.stacks[0].effective_logs * 19 / 24
    )


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


def scanned(weather=None, youngest=650, every=1):
    """Ready day and outlook of stacks inoculated every fifth day of ten years, youngest first."""
    born = [TODAY - timedelta(days=youngest + n) for n in range(0, 3653, 5 * every)]
    rows = [stack(f"S{n}", on, spawn="plug") for n, on in enumerate(born)]
    found = look(yard(*rows), weather=weather).stacks
    return born, [own.spawn.ready_on or own.spawn.ready.p50 for own in found], found


@stride(2)
@pytest.mark.parametrize("weather", ["sixteen years", "four years", "cool"])
def test_scanning_the_inoculation_day_ready_day_and_bearing_year_follow_without_a_cliff(
    weather, every
):
    """Over ten years: the account of moisture ends in them, a short file begins in them."""
    table, youngest = None, 650
    if weather == "four years":
        table = years_of_weather().cut(date(2022, 9, 17), TODAY)
    if weather == "cool":
        whole = years_of_weather()
        colder = {n: whole.values[n] - 6.0 for n in ("tmin", "tmax", "tmean")}
        table, youngest = replace(whole, values={**whole.values, **colder}), 1300
    born, ready, found = scanned(table, youngest, every)
    steps = [(later - sooner).days for later, sooner in pairwise(ready)]
    assert min(steps) >= 0  # inoculated later, never ready sooner
    assert max(steps) <= 240  # a winter
    ages = [own.bearing_year for own in found]
    assert max(abs(a - b) for a, b in pairwise(ages)) <= 1
    months = np.array([(r - b).days / 30.4 for r, b in zip(ready, born, strict=True)])
    print(f"{weather}: {months.min():.1f} to {months.max():.1f} months, steps to {max(steps)} days")
    scales = np.array([own.effective_logs for own in found])
    # Bearing years are taken in tenths: no step beyond what a tenth and a winter make together.
    assert np.abs(np.diff(scales)).max() <= 0.5 * scales.max()


def test_a_stack_does_not_age_overnight_on_any_birthday():
    """Day by day over the day on which its spawn run leaves the account of moisture."""
    whole = years_of_weather()
    born = date(2020, 4, 20)
    row = stack(inoculated=born)
    seen = []
    for n in range(-3, 4):
        today = born + timedelta(days=6 * 366 + n)
        seen.append(look(yard(row), weather=whole, today=today, weeks=4).stacks[0])
    assert len({own.spawn.ready_on for own in seen}) == 1
    assert len({own.bearing_year for own in seen}) == 1


def test_a_stack_older_than_the_weather_takes_the_mean_course_of_its_years():
    # Outside: by hand, where every year is alike, so that the mean course is the weather itself.
    weather = steady(date(2020, 1, 1), TODAY - timedelta(days=1), tmin=10, tmax=20, rain=4.0)
    run = run_of(row=stack(inoculated=date(2013, 4, 25)), weather=weather)
    known = run_of(row=stack(inoculated=date(2023, 4, 25)), weather=weather)
    assert not run.seen and run.progress == 1
    assert (run.ready_on - date(2013, 4, 25)) == (known.ready_on - date(2023, 4, 25))


def test_the_weather_file_s_first_day_moves_the_ready_day_of_an_old_stack_little():
    whole = years_of_weather()
    row = stack(inoculated=date(2012, 5, 5))
    ready = [
        run_of(row=row, weather=whole.cut(date(2013, 1, 1) + timedelta(days=n), TODAY)).ready_on
        for n in range(0, 400, 40)
    ]
    spread = (max(ready) - min(ready)).days
    assert spread <= 45
    recorded = run_of(row=row, weather=whole).ready_on
    assert abs((recorded - ready[0]).days) <= 60


def test_what_the_list_says_overrules_the_reckoned_spawn_run_both_ways():
    row = stack(inoculated=date(2022, 4, 25))
    plain = run_of(row=row)
    for since in (plain.ready_on - timedelta(days=60), plain.ready_on + timedelta(days=500)):
        told = run_of(row=replace(row, bearing_since=since))
        assert told.seen and told.ready_on == since
    ages = [
        look(yard(replace(row, bearing_since=since))).stacks[0].bearing_year
        for since in (date(2023, 6, 1), date(2026, 6, 1))
    ]
    assert ages == [5, 2]
    # What is still to come counts as nothing said; picks before it prove that it bears.
    assert run_of(row=replace(row, bearing_since=date(2028, 1, 1))).ready_on == plain.ready_on
    pick = Pick(date(2025, 4, 28), 1.0, "natural")
    state = StackState("A", 24, picks=(pick,), natural_seen_on=pick.on)
    both = run_of(state, row=replace(row, bearing_since=date(2026, 6, 1)))
    assert both.ready_on == pick.on


def test_being_told_to_bear_does_not_waive_the_published_year():
    row = stack(inoculated=BORN, bearing_since=date(2027, 4, 1))
    assert holds_of(row=row)["first year"] == date(2027, 6, 5)


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
        assert run_of(row=stack(inoculated=BORN, **slower)).ready.p50 >= plain.ready.p50


def test_the_plan_s_document_tells_progress_range_causes_and_signs():
    made = yard(stack(inoculated=BORN), stack("B", date(2022, 4, 1)))
    outlook = look(made, weeks=26)
    entries = spawn_run_entries(outlook)
    assert [entry.stack for entry in entries] == ["A"]
    entry = entries[0]
    assert 0 < entry.progress < 1
    ready = entry.ready
    assert ready.p10 <= ready.p50 <= ready.p80 <= ready.p90
    assert entry.slowed_by == ("cool weather",)
    assert any("white mycelium" in sign for sign in entry.signs)


def test_a_range_past_the_days_looked_at_is_not_made_up():
    run = run_of(row=stack(inoculated=TODAY + timedelta(days=150)))
    assert run.ready.p50 is None and run.ready.p90 is None
    assert (run.rows >= look(yard(), weeks=26).futures.days).all()
    assert holds_of(row=stack(inoculated=TODAY + timedelta(days=150)))["spawn run"] is None


def test_in_the_south_spawn_runs_through_its_own_summer():
    # The same weather half a year apart: the same progress, in either hemisphere.
    weather = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=10, tmax=20, rain=4.0)
    row = stack(inoculated=date(2026, 11, 1))
    north = look(yard(row), weather=weather).stacks[0].spawn
    south = look(yard(row, latitude=-42.6), weather=weather).stacks[0].spawn
    assert south.ready.p50 == north.ready.p50


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
    assert run.ready.p50 < only_moulds.ready.p50
