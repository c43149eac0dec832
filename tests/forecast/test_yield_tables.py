"""The arcs of a season against the forecast's own flushes, followed soak by soak."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fruitcast.forecast.flushes import follow, soak_factor
from fruitcast.forecast.fruiting import fruiting
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.past_seasons import past_runs, run_water, season_grid_start
from fruitcast.forecast.water import Band
from fruitcast.forecast.yield_tables import SEASON_DAYS, TAIL_DAYS, rotation_crop, season_table
from tests.forecast.yards import luck
from tests.inoculation.yards import NUMBERS, TODAY, sample_weather, sample_yard

TUESDAYS = tuple(range(1, SEASON_DAYS, 7))[15:43]
STARTS = (0, 24)


@cache
def seasons():
    weather, _ = sample_weather()
    begins = season_grid_start(2027, "north")
    runs = past_runs(weather, begins, SEASON_DAYS + TAIL_DAYS, TODAY, most=12, lookback=120)
    bands = [Band(0.125)]
    water = run_water(
        [runs], replace(sample_yard(), keep_above=0.35), bands, fresh=False, numbers=NUMBERS
    )
    return runs, water


@cache
def table(strain_class="wide-range", sold=1.0, days=TUESDAYS):
    runs, water = seasons()
    return season_table(
        LogKind(strain_class, 0.125),
        runs,
        water,
        days,
        STARTS,
        np.full((runs.days, 1), sold),
        np.zeros(runs.days, dtype=bool),
        where="north",
        luck=luck(runs.tmean.shape[1]),
        shared=np.ones(runs.tmean.shape[1]),
        seed=3,
        numbers=NUMBERS,
    )


def test_a_soak_s_arc_holds_its_flush_and_the_natural_ones_before_it():
    runs, water = seasons()
    rows = runs.lookback + np.array(TUESDAYS)
    logs = fruiting(
        [LogKind("wide-range", 0.125)],
        runs,
        water.moisture,
        runs.rain + water.watered,
        rows,
        lucks=[luck(runs.tmean.shape[1])],
        seed=3,
        numbers=NUMBERS,
        where="north",
    )
    forced = logs.forced
    began = np.where(forced.bears, forced.pick_row, rows[:, None]).astype(float)
    pulled = np.broadcast_to(forced.pull_row[:, None], began.shape)
    after = follow(logs, began, pulled, runs.lookback)
    factor = soak_factor(after, rows, NUMBERS.yields)
    found = table()
    keeps = logs.keeping
    for arc in (0, len(found.inner_from) // 2, len(found.inner_from) - 1):
        here, then = int(found.inner_from[arc]), int(found.inner_to[arc])
        for member in (0, 5, 11):
            kg = forced.kg[then, member] * factor[here, then, member]
            picks = np.zeros(runs.days + 60)
            first, length = forced.pick_row[then, member], forced.length[then, member]
            picks[first : first + length] += kg * logs.forced_shape[length, :length]
            for flush in range(len(after.trigger)):
                if after.trigger[flush, here, member] < rows[then]:
                    pick = after.pick[flush, here, member]
                    days = after.past[flush, here, member] - pick
                    share = logs.natural_shape[days, :days]
                    picks[pick : pick + days] += after.kg[flush, here, member] * share
            sold = picks[: runs.days] * keeps[:, member]
            assert found.inner[arc, :, member] == pytest.approx(
                sold[runs.lookback :][: SEASON_DAYS + TAIL_DAYS], abs=1e-6
            )


def test_arcs_keep_the_rest_the_start_and_the_season():
    found = table()
    assert (7 * np.diff(found.soak_weeks[[found.inner_from, found.inner_to]], axis=0) >= 63).all()
    starts = found.starts[found.first_start]
    assert (found.soak_weeks[found.first_soak] >= starts).all()
    assert set(found.starts.tolist()) == set(STARTS)
    young = np.flatnonzero(found.starts == 24)[0]
    assert found.none[young, : 7 * 24].max() == 0  # nothing before they are ready


def test_a_cold_weather_log_is_not_soaked_for_summer():
    weeks = table("cold-weather").soak_weeks
    used = {int(weeks[n]) for n in table("cold-weather").first_soak}
    assert used and not used & set(range(25, 35))


def test_what_cannot_be_sold_is_taken_off():
    assert table(sold=0.5).inner == pytest.approx(table().inner / 2, abs=1e-6)


def test_two_soak_days_a_week_are_the_mean_of_both():
    fridays = tuple(day + 3 for day in TUESDAYS)
    both = table(days=tuple(sorted(TUESDAYS + fridays)))
    one, other = table(), table(days=fridays)
    assert (both.soak_days == 2).all() and (one.soak_days == 1).all()

    def total(found, week, onward):
        pairs = zip(
            found.soak_weeks[found.inner_from], found.soak_weeks[found.inner_to], strict=True
        )
        arc = [n for n, pair in enumerate(pairs) if pair == (week, onward)]
        return found.inner[arc[0]] if arc else None

    compared = 0
    for week, onward in ((20, 30), (22, 33), (25, 36)):
        parts = [total(found, week, onward) for found in (one, other, both)]
        if all(part is not None for part in parts):
            assert parts[2] == pytest.approx((parts[0] + parts[1]) / 2, abs=1e-6)
            compared += 1
    assert compared >= 2


def test_the_rotation_gives_what_logs_are_known_to_give():
    # 113-227 g a log and flush, 2-3 forced flushes a year (common practice).
    crop = rotation_crop(table(), 0, rest_days=NUMBERS.schedule.rest_days)
    assert crop.shape[1] == 12
    print(f"wide-range, best year, in rotation: {crop.mean():.2f} kg a log and season")
    assert 2 * 0.113 <= crop.mean() <= 3 * 0.227
    cold = rotation_crop(table("cold-weather"), 0, rest_days=NUMBERS.schedule.rest_days)
    assert cold.mean() < crop.mean()  # wide-range bears most in total (common practice)
