"""Flushes under way: what was soaked, seen and picked, and what is still to come of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.diary.state import Pick, Soak, StackState
from fruitcast.forecast.under_way import start_of
from fruitcast.numbers import default_numbers
from tests.forecast.yards import UNTAUGHT, look, stack, yard
from tests.weather.tables import steady

TODAY = date(2027, 7, 12)
OLD = stack(inoculated=date(2023, 4, 5))
STEADY = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=12.0, tmax=24.0, rain=2.0)
# 18 degC: 13 degree-days a day above 5, so 100 of them take 8 days.


def day(offset: int) -> date:
    return TODAY + timedelta(days=offset)


def soaked(days_ago: int, **changes) -> StackState:
    on = day(-days_ago)
    pulled = day(-days_ago + 1) if days_ago >= 1 else None
    return replace(
        StackState("A", 24, soaks=(Soak(on, 24, 24.0, pulled),)),
        **changes,
    )


def picks(kind: str, *given: tuple[int, float], soaked_on: date | None = None):
    return tuple(Pick(day(offset), kg, kind, soaked_on) for offset, kg in given)


def seen(state: StackState, *, weather=STEADY, today=TODAY, **options):
    outlook = look(yard(OLD), state, today=today, weather=weather, learned=UNTAUGHT, **options)
    return outlook, outlook.flushes.get("A")


def to_come(state: StackState, **options) -> float:
    """Mean weight still to come. [kg]"""
    outlook, flush = seen(state, **options)
    return 0.0 if flush is None else float(flush.kg.mean() * outlook.stacks[0].effective_logs)


def test_nothing_is_under_way_without_a_record():
    assert seen(StackState("A", 24))[1] is None


def test_a_soak_in_the_tank_comes_after_the_pull():
    outlook, flush = seen(replace(soaked(0)))
    today = outlook.futures.lookback
    assert flush.kind == "forced" and flush.begun == TODAY
    assert np.median(flush.pick) == pytest.approx(today + 1 + 8, abs=1)
    assert np.ptp(flush.pick) > 0
    assert flush.share.sum(axis=0) == pytest.approx(1)
    assert flush.kg.mean() * outlook.stacks[0].effective_logs == pytest.approx(
        24 * 0.21 * 1.3, rel=0.3
    )


def test_days_since_the_pull_count():
    lead = [
        np.median(seen(soaked(ago))[1].pick) - seen(soaked(ago))[0].futures.lookback
        for ago in (1, 3, 5)
    ]
    assert lead == pytest.approx([lead[0], lead[0] - 2, lead[0] - 4], abs=0.5)


def test_until_it_is_overdue_a_soak_is_what_it_was_when_planned():
    outlook, flush = seen(soaked(3))
    planned = look(
        yard(OLD), today=day(-3), weather=STEADY.cut(STEADY.start, day(-3)), learned=UNTAUGHT
    )
    same = [planned.futures.years.index(year) for year in outlook.futures.years]
    index = int(np.flatnonzero(planned.soak_rows == planned.futures.lookback)[0])
    forced = planned.kinds[planned.stacks[0].kind].forced
    then = forced.pick_row[index, same] - planned.futures.lookback
    assert (flush.pick - outlook.futures.lookback).tolist() == (then - 3).tolist()
    rested = 0.21 * flush.kg.size
    assert flush.kg.sum() == pytest.approx(rested * 1.33, rel=0.3)


def test_what_is_overdue_comes_late_or_not_at_all():
    due = 1 + 8 + int(default_numbers().diary.record_delay_days)
    shares = [float((seen(soaked(ago))[1].kg > 0).mean()) for ago in (4, due, due + 3, due + 8)]
    assert shares[0] == 1
    assert shares == sorted(shares, reverse=True)
    assert shares[2] < 0.7
    assert shares[3] == 0
    outlook, flush = seen(soaked(due))
    coming = flush.pick[flush.kg > 0] - outlook.futures.lookback
    assert coming.min() >= 0 and coming.max() <= 4


def test_mushrooms_disprove_that_a_short_rest_leaves_nothing():
    """A few were picked, the logs soaked three days later: the table has nothing of that soak."""
    on = day(-12)
    early = picks("natural", (-15, 0.3))
    unseen = soaked(12, picks=early)
    assert to_come(unseen) == 0
    some = to_come(replace(unseen, pins_on=TODAY))
    assert 0.1 < some < to_come(soaked(12, pins_on=TODAY))
    assert to_come(replace(unseen, fruiting_on=TODAY)) > 0.1
    basket = picks("forced", (-1, 1.2), soaked_on=on)
    being_picked = replace(unseen, picks=(*early, *basket))
    assert 0.1 < to_come(being_picked) < to_come(soaked(12, picks=basket)) * 1.5
    by_itself = picks("natural", (-20, 0.3), (-1, 1.2))
    assert to_come(StackState("A", 24, picks=by_itself)) > 0.1


def test_a_soak_long_past_is_over():
    assert seen(soaked(40))[1] is None


def test_pins_of_a_soak_settle_when_it_is_picked():
    expected = seen(soaked(12))[1]
    late = soaked(12, pins_on=day(-1))
    outlook, flush = seen(late)
    assert (flush.kg > 0).all()  # whatever was overdue: now it comes
    lead = flush.pick - outlook.futures.lookback
    # Six tenths of 100 degree-days from yesterday on.
    assert np.median(lead) == pytest.approx(0.6 * 100 / 13 - 1, abs=1)
    assert (expected.kg > 0).mean() < 1


def test_mushrooms_of_a_soak_in_the_open_are_picked_now():
    outlook, flush = seen(soaked(9, fruiting_on=day(0)))
    assert (flush.pick == outlook.futures.lookback).all()
    assert (flush.kg > 0).all()


def test_pins_by_themselves_announce_a_natural_flush():
    outlook, flush = seen(StackState("A", 24, pins_on=day(-1)))
    assert flush.kind == "natural" and flush.begun == day(-1)
    # 0.6 of 100 degree-days, 1.2 times as many for a natural flush.
    lead = flush.pick - outlook.futures.lookback
    assert np.median(lead) == pytest.approx(0.6 * 120 / 13 - 1, abs=1)
    assert np.ptp(flush.kg) > 0


def test_pins_in_a_cold_autumn_die():
    cold = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=-3.0, tmax=4.0, rain=2.0)
    assert to_come(StackState("A", 24, pins_on=day(-1)), weather=cold) == 0
    outlook, flush = seen(StackState("A", 24, pins_on=day(-1)), weather=cold)
    last, _ = start_of(outlook.stacks[0], flush, outlook.futures)
    assert np.isneginf(last).all()  # buds that died cost no rest


def test_a_natural_flush_in_the_open_is_under_way():
    outlook, flush = seen(StackState("A", 24, fruiting_on=day(-2), natural_seen_on=day(-2)))
    today = outlook.futures.lookback
    assert (flush.pick == today - 2).all()
    assert flush.share[:today].sum() == 0
    assert flush.share.sum(axis=0) == pytest.approx(1)


def test_what_was_picked_is_taken_off():
    before = to_come(soaked(9, fruiting_on=day(0)))
    on = day(-9)
    some = to_come(soaked(9, picks=picks("forced", (-1, 1.0), soaked_on=on)))
    more = to_come(soaked(9, picks=picks("forced", (-1, 1.0), (0, 2.0), soaked_on=on)))
    assert before > some > more > 0


def test_a_rich_first_basket_promises_a_rich_flush():
    on = day(-9)
    poor, rich = (
        kg + to_come(soaked(9, picks=picks("forced", (-1, kg), soaked_on=on))) for kg in (0.3, 2.0)
    )
    assert rich > poor > 3.0  # a small one may simply be early


def test_near_its_end_a_flush_is_judged_by_what_was_picked():
    on = day(-13)
    given = [(-4, 0.7), (-3, 2.0), (-2, 2.0), (-1, 1.3)]
    left = to_come(soaked(13, picks=picks("forced", *given, soaked_on=on)))
    assert 0 < left < 1.0
    third = [(offset, kg / 3) for offset, kg in given]
    poor = to_come(soaked(13, picks=picks("forced", *third, soaked_on=on)))
    assert 0.3 * left < poor < 0.7 * left


@pytest.mark.parametrize(("tmin", "tmax"), [(5.0, 11.0), (8.0, 16.0), (16.0, 29.0), (20.0, 33.0)])
@pytest.mark.parametrize("kg", [0.3, 1.2, 4.0])
@pytest.mark.parametrize("kind", ["natural", "forced"])
def test_an_early_pick_foretells_no_more_than_such_logs_can_give(tmin, tmax, kg, kind):
    """Six days after the pins, or sixteen after the soak, the first basket of 36 logs."""
    weather = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=tmin, tmax=tmax, rain=2.0)
    row = replace(OLD, logs=36)
    on = day(-16)
    if kind == "forced":
        soaks = (Soak(on, 36, 24.0, day(-15)),)
        state = StackState("A", 36, soaks=soaks, spawn_run_seen_on=date(2024, 5, 1))
        state = replace(state, picks=picks(kind, (-1, kg), soaked_on=on))
    else:
        state = StackState("A", 36, picks=picks(kind, (-1, kg)), natural_seen_on=day(-1))
    found = look(yard(row), state, today=TODAY, weather=weather)
    flush, effective_logs = found.flushes["A"], found.stacks[0].effective_logs
    assert flush.picked_kg == kg
    assert kg <= flush.whole_kg(effective_logs, 0.1) < flush.whole_kg(effective_logs, 0.9)
    assert kg + flush.kg.max() * effective_logs < 36 * 0.5


def test_frost_before_the_first_pick_has_taken_of_what_is_still_to_come():
    """Two weeks of 13 degC and one night of frost, two days before a pick of a few grams."""
    row = replace(OLD, strain_class="cold-weather")
    state = StackState("A", 24, picks=picks("natural", (-1, 0.02)), natural_seen_on=day(-1))
    left = {}
    for night in (8.0, -12.0):
        weather = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=8.0, tmax=18.0, rain=2.0)
        weather.values["tmin"][weather.index(day(-3))] = night
        found = look(yard(row), state, today=TODAY, weather=weather, learned=UNTAUGHT)
        left[night] = float(found.flushes["A"].kg.mean())
    assert left[-12.0] < 0.85 * left[8.0]


def test_a_count_of_pins_narrows_what_is_foretold():
    pins = StackState("A", 24, pins_on=day(-1))
    few, many = (replace(pins, pins_counted=(day(-1), count)) for count in (5.0, 40.0))
    assert to_come(few) < to_come(pins) < to_come(many)
    flush = {n: seen(state)[1].kg for n, state in enumerate((pins, few, many))}
    spread = {n: np.log(kg[kg > 0]).std() for n, kg in flush.items()}
    assert max(spread[1], spread[2]) < spread[0]
    old = replace(pins, pins_counted=(day(-200), 5.0))
    assert to_come(old) == pytest.approx(to_come(pins))


def test_a_soak_that_brought_nothing_is_over():
    state = soaked(14)
    empty = replace(state, soaks=tuple(replace(s, brought_nothing=True) for s in state.soaks))
    assert seen(empty)[1] is None


def test_nothing_is_left_after_the_last_day_of_picking():
    on = day(-20)
    assert to_come(soaked(20, picks=picks("forced", (-11, 1.0), (-8, 1.0), soaked_on=on))) == 0
    natural = StackState("A", 24, picks=picks("natural", (-16, 1.0)), natural_seen_on=day(-16))
    assert to_come(natural) == 0


def test_picks_of_today_leave_the_days_from_tomorrow():
    outlook, flush = seen(soaked(9, picks=picks("forced", (0, 1.0), soaked_on=day(-9))))
    today = outlook.futures.lookback
    assert flush.share[: today + 1].sum() == 0
    assert flush.share[today + 1 :].sum(axis=0) == pytest.approx(1)


def test_when_half_the_logs_were_soaked_half_the_crop_comes():
    on = day(-3)
    half = StackState("A", 24, soaks=(Soak(on, 12, 24.0, day(-2)),))
    assert to_come(half) == pytest.approx(to_come(soaked(3)) / 2)


def test_a_flush_soon_after_another_is_small():
    rested = to_come(soaked(3))
    early = soaked(3, picks=picks("natural", (-35, 1.0)), natural_seen_on=day(-35))
    assert to_come(early) < 0.6 * rested


def test_the_first_bearing_year_counts_for_a_flush_under_way():
    young = stack(inoculated=date(2026, 6, 20))
    made = look(yard(young), soaked(3), today=TODAY, weather=STEADY, learned=UNTAUGHT, weeks=30)
    own = made.stacks[0]
    assert own.bearing_year == 1 and min(own.season_factors) < 1
    whole, _ = seen(soaked(3)), None
    share = made.flushes["A"].kg.mean() / whole[1].kg.mean()
    assert share == pytest.approx(min(own.season_factors), rel=0.06)


# --- where a stack starts from -------------------------------------------------------------


def starts(state: StackState):
    outlook, flush = seen(state)
    last, ready = start_of(outlook.stacks[0], flush, outlook.futures)
    today = outlook.futures.lookback
    return last - today, ready - today, flush


def test_without_a_flush_a_stack_starts_from_its_last_first_pick():
    last, _, _ = starts(
        StackState(
            "A", 24, picks=picks("natural", (-60, 1.0), (-55, 0.5)), natural_seen_on=day(-60)
        )
    )
    assert set(last) == {-60}


def test_a_flush_to_come_moves_the_start_to_its_first_pick():
    last, ready, flush = starts(soaked(3))
    assert (last > 0).all() and np.ptp(last) > 0
    assert (ready - last == flush.past - flush.pick).all()


def test_a_soak_that_brought_nothing_starts_the_rest_itself():
    last, ready, flush = starts(soaked(40))
    assert flush is None
    assert set(last) == {-40}
    assert (ready >= -39).all()
    # Also when there was a flush before it.
    earlier = soaked(40, picks=picks("natural", (-110, 1.0)), natural_seen_on=day(-110))
    assert set(starts(earlier)[0]) == {-40}
