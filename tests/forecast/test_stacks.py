"""What holds a stack back, how worn it is, which bearing year it is in."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fruitcast.biology.wood import dry_from_wet
from fruitcast.biology.yields import bearing_life, lifetime_yield, year_share_factor
from fruitcast.diary.state import Pick, Soak, StackState, picked_per_log
from fruitcast.forecast.stacks import wear_today
from tests.forecast.yards import NUMBERS, TODAY, UNTAUGHT, look, stack, yard
from tests.weather.tables import steady

OLD = stack(inoculated=date(2023, 4, 5))


def holds(*states: StackState, row=OLD, today=TODAY, **options):
    outlook = look(yard(row), *states, today=today, **options)
    return {hold.cause: hold.until for hold in outlook.stacks[0].holds}


def soaked(days_ago: int, **changes) -> StackState:
    on = TODAY - timedelta(days=days_ago)
    return StackState("A", 24, soaks=(Soak(on, 24, 24.0, on + timedelta(days=1)),), **changes)


def picked(days_ago: int, kind="natural", **changes) -> StackState:
    on = TODAY - timedelta(days=days_ago)
    return StackState("A", 24, picks=(Pick(on, 1.0, kind),), natural_seen_on=on, **changes)


def test_nothing_holds_an_old_rested_stack():
    assert holds() == {}


def test_no_logs():
    assert holds(StackState("A", 0)) == {"no logs": None}


def test_rest_runs_from_soak_day_to_soak_day():
    rest = int(NUMBERS.schedule.rest_days)
    assert holds(soaked(40)) == {"rest": TODAY - timedelta(days=40) + timedelta(days=rest)}
    assert holds(soaked(rest - 1))["rest"] == TODAY + timedelta(days=1)
    assert holds(soaked(rest)) == {}


def test_in_the_tank_is_a_rest_that_has_just_begun():
    on = TODAY - timedelta(days=1)
    state = StackState("A", 24, soaks=(Soak(on, 24, 24.0, None),))
    assert holds(state) == {"tank": on + timedelta(days=63)}


def test_rest_after_a_natural_flush_runs_from_its_first_pick():
    rest = int(NUMBERS.natural.soak_rest_days)
    first = TODAY - timedelta(days=20)
    picks = tuple(Pick(first + timedelta(days=n), 0.5, "natural") for n in (0, 4, 9))
    state = StackState("A", 24, picks=picks, natural_seen_on=first)
    assert holds(state) == {"natural rest": first + timedelta(days=rest)}
    assert holds(picked(rest)) == {}


def test_pins_forbid_a_soak_until_the_flush_has_come_and_the_log_rested():
    on = TODAY - timedelta(days=2)
    assert holds(StackState("A", 24, pins_on=on))["pins"] == on + timedelta(days=49)


def test_mushrooms_of_a_soak_are_no_natural_flush():
    state = soaked(10, fruiting_on=TODAY - timedelta(days=1))
    assert set(holds(state)) == {"rest"}
    alone = StackState("A", 24, fruiting_on=TODAY - timedelta(days=1))
    assert set(holds(alone)) == {"natural rest"}


def test_the_first_year_holds_whatever_has_been_seen():
    young = stack(inoculated=TODAY - timedelta(days=300))
    state = picked(60)
    assert holds(state, row=young) == {"first year": young.inoculated + timedelta(days=365)}


def test_a_stack_inoculated_yesterday_is_held_by_both_spawn_run_and_year():
    young = stack(inoculated=TODAY - timedelta(days=1))
    assert set(holds(row=young)) == {"spawn run", "first year"}


def drought(*, wet_again: int = 0):
    """Weather without rain since last summer, but for the last days."""
    weather = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=12.0, tmax=28.0, rain=4.0)
    weather.values["rain"][-300:] = 0.0
    if wet_again:
        weather.values["rain"][-wet_again:] = 25.0
    return weather


def test_a_dry_stack_is_presumed_dead_until_it_is_inspected():
    row = stack(inoculated=date(2024, 4, 5))
    outlook = look(yard(row, keep_above=None), weather=drought())
    dry = outlook.stacks[0]
    assert dry.dampness.moisture < dry_from_wet(0.23)
    assert {hold.cause: hold.until for hold in dry.holds} == {"dead": None}
    assert dry.effective_logs == 0 and dry.soakable_from is None
    alive = StackState("A", 24, inspected_on=TODAY - timedelta(days=3), findings=("healthy",))
    lives = look(yard(row, keep_above=None), alive, weather=drought()).stacks[0]
    assert not lives.holds and lives.effective_logs > 0


def test_rain_does_not_bring_the_dead_back():
    wet = drought(wet_again=40)
    row = stack(inoculated=date(2024, 4, 5))
    dead = look(yard(row, keep_above=None), weather=wet).stacks[0]
    assert dead.dampness.moisture > dry_from_wet(0.25)
    assert dead.dampness.dry_since is not None
    assert dead.dampness.dry_since < TODAY - timedelta(days=60)
    # A pick since then shows that it lives.
    assert look(yard(row, keep_above=None), picked(5), weather=wet).stacks[0].effective_logs > 0


# --- wear ----------------------------------------------------------------------------------

WHOLE = lifetime_yield(
    NUMBERS.strain("wide-range").yields.base,
    NUMBERS.tree("red oak"),
    OLD.diameter,
    OLD.length,
    NUMBERS.yields,
)
LIFE = bearing_life(OLD.diameter, NUMBERS.tree("red oak"), NUMBERS.yields)


def worn(kg_per_log: float, years_gone: float = 0.5, factor: float = 1.0, **changes) -> float:
    state = StackState("A", 24, picks=(Pick(date(2026, 6, 1), 24 * kg_per_log, "forced"),))
    return wear_today(OLD, replace(state, **changes), years_gone, factor, NUMBERS)


def test_without_picks_or_with_few_a_stack_is_not_worn():
    assert wear_today(OLD, StackState("A", 24), 2.0, 1.0, NUMBERS) == 1
    assert worn(0.01 * WHOLE, years_gone=2.0) == 1


def test_a_log_that_gave_more_than_its_age_has_less_left():
    # Half of its life's crop given in the first half year: half is left, of nearly all due.
    assert worn(0.5 * WHOLE) == pytest.approx(0.5 / (1 - 0.5 / LIFE * 4 / 6), rel=1e-6)
    assert worn(0.7 * WHOLE) < worn(0.5 * WHOLE)
    assert worn(2.0 * WHOLE) == NUMBERS.yields.wear_least


def test_picking_as_fast_as_the_table_has_it_wears_nothing():
    for quarters, given in ((1, 1 / 6), (2, 1 / 2), (3, 5 / 6)):
        assert worn(given * WHOLE, years_gone=quarters * LIFE / 4) == pytest.approx(1)


def test_a_yard_whose_logs_hold_more_wears_them_less():
    assert worn(0.5 * WHOLE, factor=1.5) > worn(0.5 * WHOLE)
    # All that was learned goes into the life's crop: the same share given, the same wear.
    assert worn(0.6 * WHOLE, factor=1.2) == pytest.approx(worn(0.5 * WHOLE))


def test_logs_that_died_took_their_share_of_the_picks_with_them():
    state = StackState(
        "A",
        12,
        picks=(Pick(date(2026, 6, 1), 24.0, "forced"), Pick(date(2026, 9, 1), 6.0, "forced")),
        lost=((date(2026, 7, 1), 12),),
    )
    assert picked_per_log(state, flush_days=NUMBERS.diary.flush_days) == pytest.approx(
        24 / 24 + 6 / 12
    )


def test_wear_counts_the_season_of_its_own_hemisphere():
    today = date(2026, 12, 20)
    pick = Pick(date(2026, 11, 1), 24 * 0.5 * WHOLE, "forced")
    state = StackState("A", 24, picks=(pick,))
    row = stack(inoculated=date(2024, 4, 5))
    north, south = (
        look(yard(row, latitude=latitude), state, today=today, learned=UNTAUGHT).stacks[0]
        for latitude in (42.6, -42.6)
    )
    # The end of the northern season, the middle of the southern one.
    assert north.bearing_year >= south.bearing_year
    assert north.wear > south.wear


# --- bearing years ---------------------------------------------------------------------------


def test_seasons_turn_at_midwinter_of_the_hemisphere():
    row = stack(inoculated=date(2023, 4, 5))
    for latitude, before, after in (
        (42.6, date(2026, 12, 31), date(2027, 1, 1)),
        (-42.6, date(2026, 6, 30), date(2026, 7, 1)),
    ):
        years = [
            look(yard(row, latitude=latitude), today=day).stacks[0].bearing_year
            for day in (before, after)
        ]
        assert years[1] == years[0] + 1


def test_a_horizon_over_new_year_takes_each_season_at_its_bearing_year():
    row = stack(inoculated=date(2024, 4, 5))
    outlook = look(yard(row), today=date(2026, 11, 2), weeks=20)
    own = outlook.stacks[0]
    assert len(own.season_factors) == 2
    assert own.bearing_year == 2 and max(own.season_factors) == 1.0
    row = stack(inoculated=date(2025, 4, 5), bearing_since=date(2026, 3, 1))
    young = look(yard(row), today=date(2026, 11, 2), weeks=20)
    assert young.stacks[0].bearing_year == 1
    shares = year_share_factor(
        [1, 2], bearing_life(0.125, NUMBERS.tree("red oak"), NUMBERS.yields), NUMBERS.yields
    )
    assert young.stacks[0].season_factors == pytest.approx(shares / shares.max(), abs=1e-6)
    # One that began in the middle of the season is half a year younger.
    row = replace(row, bearing_since=date(2026, 7, 2))
    middle = look(yard(row), today=date(2026, 11, 2), weeks=20)
    half = year_share_factor([0.5, 1.5], LIFE, NUMBERS.yields)
    assert middle.stacks[0].season_factors == pytest.approx(half / half.max(), abs=1e-6)
