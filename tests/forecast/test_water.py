"""Moisture of each stack so far, with what the diary says, and of each size in every member."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.biology.wood import dry_from_wet, fresh_moisture, wet_from_dry
from fruitcast.diary.state import SampleLog, Soak, StackState
from fruitcast.forecast.water import COMMON_WOOD, MOISTURE_STEP, band_of, past_water
from fruitcast.weather.daily import Source
from tests.forecast.yards import NUMBERS, TODAY, look, stack, state_of, yard
from tests.weather.tables import steady

DRY = steady(date(2010, 1, 1), TODAY - timedelta(days=1), tmin=12.0, tmax=28.0, rain=0.0)


def account(
    *states: StackState,
    weather=DRY,
    keep_above=None,
    first=date(2026, 1, 1),
    rows=None,
    today=TODAY,
    known=None,
):
    rows = rows or (stack(inoculated=date(2026, 3, 1)),)
    made = replace(yard(*rows), keep_above=keep_above)
    given = state_of(made, *states)
    return past_water(
        weather,
        made,
        [(row, given.stacks[row.name]) for row in rows],
        first,
        today,
        NUMBERS,
        known,
    )


def test_logs_are_fresh_on_the_day_of_inoculation_whatever_the_weather_before():
    past = account(rows=(stack("A", date(2026, 3, 1)), stack("B", date(2027, 4, 1))))
    fresh = fresh_moisture(
        NUMBERS.tree("red oak").density, NUMBERS.tree("red oak").specific_gravity
    )
    for column, born in enumerate((date(2026, 3, 1), date(2027, 4, 1))):
        row = past.row(born)
        assert past.by_stack[row, column] == pytest.approx(fresh)
        assert past.by_stack[row + 20, column] < fresh - 0.02
    old, young = past.by_stack[-1]
    assert old < young  # a year of drought against a month


def test_a_stack_not_yet_inoculated_stands_fresh():
    past = account(rows=(stack("A", TODAY + timedelta(days=20)),))
    assert past.by_stack[-1, 0] == past.by_stack[0, 0] > 0.6
    assert np.isnan(past.correction).all()


def test_recorded_waterings_and_soaks_wet_their_own_stack_only():
    on = date(2026, 8, 1)
    rows = (
        stack("A", date(2026, 3, 1)),
        stack("B", date(2026, 3, 1)),
        stack("C", date(2026, 3, 1)),
    )
    past = account(
        StackState("B", 24, watered=((on, 20.0),)),
        StackState("C", 24, soaks=(Soak(on, 24, 24.0, on + timedelta(days=1)),)),
        rows=rows,
    )
    row = past.row(on)
    before, after = past.by_stack[row - 1], past.by_stack[row]
    assert np.ptp(before) == 0
    assert after[0] < before[0]
    assert after[1] > before[1] + 0.01
    assert after[2] > after[1]
    assert past.watered[row].tolist() == [0.0, 20.0, 0.0]


def test_an_account_gone_on_with_is_the_whole_one():
    """What was watered, weighed or soaked just before the day it goes on from counts alike."""
    turn = date(2026, 8, 3)
    rows = tuple(stack(name, date(2026, 3, 1)) for name in "ABCD")
    states = (
        StackState("B", 24, watered=((turn - timedelta(days=1), 20.0), (turn, 15.0))),
        StackState("C", 24, soaks=(Soak(turn, 24, 24.0, turn + timedelta(days=1)),)),
        StackState("D", 24, moisture_seen=((turn + timedelta(days=4), 0.6),)),
    )
    for keep_above in (None, 0.35):
        whole = account(*states, rows=rows, keep_above=keep_above)
        known = account(*states, rows=rows, keep_above=keep_above, today=turn)
        for first in (turn, TODAY - timedelta(days=9), TODAY):
            known = account(*states, rows=rows, keep_above=keep_above, today=first, known=known)
            assert known.first == whole.first and known.days == (first - whole.first).days
        for name in ("tmean", "moisture", "by_stack", "watered", "correction", "unwatered"):
            np.testing.assert_allclose(getattr(known, name), getattr(whole, name), atol=1e-12)


def test_two_waterings_on_one_day_add_up():
    on = date(2026, 8, 1)
    past = account(StackState("A", 24, watered=((on, 10.0), (on, 5.0))))
    assert past.watered[past.row(on), 0] == 15.0


def test_logs_are_taken_as_watered_unless_the_diary_tells_every_watering():
    on = date(2026, 8, 1)
    complete = int(NUMBERS.moisture.evidence_days)
    silent = account(keep_above=0.35)
    told = account(StackState("A", 24, watered=((on, 12.5),)), keep_above=0.35)
    assert silent.by_stack[silent.row(on) :, 0].min() > dry_from_wet(0.34)
    span = slice(told.row(on) + 1, told.row(on) + complete)
    assert told.watered[span, 0].max() == 0  # nothing is assumed while the diary is kept
    assert told.by_stack[span.stop - 1, 0] < dry_from_wet(0.33)
    assert told.by_stack[-1, 0] > dry_from_wet(0.34)  # later it is assumed again
    # Before the first record there is no difference.
    assert (told.by_stack[: told.row(on)] == silent.by_stack[: silent.row(on)]).all()


def test_a_weighed_sample_log_resets_the_moisture_and_shows_the_correction():
    on = TODAY - timedelta(days=5)
    seen = float(dry_from_wet(0.40))
    state = StackState(
        "A", 24, moisture_seen=((on, seen),), sample_logs=(SampleLog("", on, 13.0, 0.40),)
    )
    unweighed, weighed = account(), account(state)
    row = weighed.row(on)
    assert weighed.by_stack[row, 0] == pytest.approx(seen)
    assert weighed.correction[row, 0] == pytest.approx(seen - unweighed.by_stack[row, 0])
    assert np.isfinite(weighed.correction[:, 0]).sum() == 1
    outlook = look(yard(stack(inoculated=date(2026, 3, 1)), keep_above=None), state, weather=DRY)
    weighing = outlook.stacks[0].dampness.weighing
    assert weighing.on == on
    assert weighing.found == pytest.approx(seen)
    assert weighing.modelled < seen - 0.1


def test_a_stack_weighed_far_off_its_kind_gets_a_level_of_its_own():
    on = TODAY - timedelta(days=1)
    rows = (stack("A", date(2024, 3, 1)), stack("B", date(2024, 3, 1)))
    driest = float(dry_from_wet(0.24))
    outlook = look(yard(*rows), StackState("B", 24, moisture_seen=((on, driest),)), weather=DRY)
    usual, own = outlook.stacks
    assert usual.kind.moisture_today is None
    assert own.kind.moisture_today == pytest.approx(driest, abs=MOISTURE_STEP / 2)
    # It bears less after a soak, and weather can't set it off before it is watered.
    first = [outlook.kinds[s.kind] for s in outlook.stacks]
    assert first[1].forced.kg[0].mean() < first[0].forced.kg[0].mean()
    today = outlook.futures.lookback
    assert first[1].weather.moisture[today - 1, 0] == pytest.approx(own.kind.moisture_today)
    # The draws are the kind's: only moisture tells the two apart.
    assert (first[1].forced.need == first[0].forced.need).all()


def test_a_weighing_near_the_model_or_long_ago_leaves_a_stack_with_its_kind():
    rows = (stack("A", date(2024, 3, 1)),)
    plain = look(yard(*rows), weather=DRY).stacks[0]
    near = ((TODAY - timedelta(days=1), plain.moisture + 0.01),)
    long_ago = ((TODAY - timedelta(days=90), float(dry_from_wet(0.27))),)
    for seen in (near, long_ago):
        state = StackState("A", 24, moisture_seen=seen)
        assert look(yard(*rows), state, weather=DRY).stacks[0].kind.moisture_today is None


def test_a_soak_alone_is_no_evidence():
    on = TODAY - timedelta(days=3)
    state = StackState("A", 24, soaks=(Soak(on, 24, 48.0, on + timedelta(days=2)),))
    outlook = look(yard(stack(inoculated=date(2024, 3, 1))), state, weather=DRY)
    own = outlook.stacks[0]
    usual = outlook.past.moisture[-1, outlook.past.bands.index(band_of(own.stack.diameter))]
    assert own.moisture > usual + MOISTURE_STEP
    assert own.kind.moisture_today is None


def test_the_account_begins_with_the_weather_where_that_is_younger_than_the_oldest_stack():
    short = steady(date(2022, 6, 1), TODAY - timedelta(days=1), rain=4.0)
    past = account(weather=short, first=date(2021, 9, 1), rows=(stack("A", date(2021, 10, 1)),))
    assert past.first == date(2022, 6, 1)
    assert len(past.tmean) == len(past.by_stack) == (TODAY - past.first).days
    assert past.row(date(2021, 10, 1)) < 0


def test_in_the_members_watering_counts_as_rain():
    watered, dry = (
        look(yard(stack(inoculated=date(2024, 3, 1)), keep_above=keep), weather=DRY)
        for keep in (0.35, None)
    )
    today = watered.futures.lookback
    assert (watered.water.water[today:] > watered.futures.rain[today:, None]).any()
    assert (dry.water.water == dry.futures.rain[:, None]).all()
    assert wet_from_dry(watered.water.moisture[-1]).min() > 0.33
    assert wet_from_dry(dry.water.moisture[-1]).max() < 0.3
    assert COMMON_WOOD in NUMBERS.trees


def test_rain_of_late_days_wets_the_logs_of_its_own_member():
    weather = steady(date(2010, 1, 1), TODAY - timedelta(days=1), tmin=12.0, tmax=28.0, rain=0.0)
    weather.rain[weather.index(TODAY - timedelta(days=366))] = 60.0
    sources = {name: codes.copy() for name, codes in weather.sources.items()}
    for codes in sources.values():
        codes[-3:] = Source.AWAITED
    waiting = replace(weather, sources=sources)
    made = look(yard(stack(inoculated=date(2024, 3, 1))), weather=waiting)
    evening = made.futures.lookback - 1
    moisture = made.water.moisture[evening, 0]
    wet = made.futures.rain[evening] > 50.0
    assert wet[made.futures.years.index(TODAY.year - 1)] and 0 < wet.mean() < 0.3
    assert moisture[wet].min() > moisture[~wet].max() + 0.01
    # As if the days were known, where they are as dry as they turned out.
    told = look(yard(stack(inoculated=date(2024, 3, 1))), weather=weather)
    np.testing.assert_allclose(moisture[~wet], told.water.moisture[evening, 0][~wet], rtol=1e-9)
