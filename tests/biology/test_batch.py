"""The days that a batch of young logs goes by, counted by hand over made-up weather."""

from datetime import date, timedelta

import numpy as np

from fruitcast.biology.tree_seasons import (
    last_frost_day,
    leaf_fall_day,
    leaf_out_day,
    thawed_day,
    turning_days,
)
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()
DAYS = 300


def test_the_last_frost_of_spring_is_the_last_and_autumn_s_do_not_count():
    tmin = np.full((DAYS, 3), 5.0)
    tmin[[3, 90], 0] = -1.0
    tmin[[181, 182, 280], 1] = -0.1
    tmin[40, 2] = 0.0
    assert last_frost_day(tmin).tolist() == [90, 181, -1]


def test_thawed_is_the_day_after_the_last_cold_week_of_spring():
    # The mean of seven days passes 3 degC: two of them at 10 and five at 0 give 20/7, three 30/7.
    tmean = np.full((DAYS, 2), 10.0)
    tmean[:50, 0] = 0.0
    tmean[100:105, 0] = 0.0  # the worst week of these is 20/7: cold once more, on day 104 and 105
    assert thawed_day(tmean, NUMBERS.inoculation).tolist() == [107, 0]
    tmean[100:105, 0] = 10.0
    assert thawed_day(tmean, NUMBERS.inoculation).tolist() == [52, 0]
    # A winter that is just so mild throughout is one.
    assert thawed_day(
        np.full((DAYS, 1), 3.0), NUMBERS.inoculation._replace(thaw_days=7, thawed_above=3.0)
    ).tolist() == [0]


def test_a_batch_is_turned_every_step_within_the_growing_season_both_ends_included():
    step = int(NUMBERS.inoculation.turn_days)
    inoculated = date(2027, 3, 1)
    days = [inoculated + n * timedelta(days=step) for n in range(1, 5)]
    assert turning_days(
        inoculated, days[3], (days[0], days[2]), turn_days=NUMBERS.inoculation.turn_days
    ) == tuple(days[:3])
    inside = (days[0] + timedelta(days=1), days[2] - timedelta(days=1))
    assert turning_days(inoculated, days[3], inside, turn_days=NUMBERS.inoculation.turn_days) == (
        days[1],
    )


def test_in_the_south_the_growing_season_spans_new_year():
    step = int(NUMBERS.inoculation.turn_days)
    inoculated = date(2027, 8, 1)
    days = [inoculated + n * timedelta(days=step) for n in range(1, 6)]
    growing = (days[0], days[4])  # from September over New Year to May
    assert growing[0].year < growing[1].year
    until = days[4] + timedelta(days=1)
    assert turning_days(
        inoculated, until, growing, turn_days=NUMBERS.inoculation.turn_days
    ) == tuple(days)
    narrow = (days[0] + timedelta(days=1), days[4] - timedelta(days=1))
    assert turning_days(
        inoculated, until, narrow, turn_days=NUMBERS.inoculation.turn_days
    ) == tuple(days[1:4])


def test_leaves_come_when_the_warmth_since_midwinter_is_enough_and_fall_in_a_cool_autumn():
    # Warmth is built up from the tenth day on, a tenth of what is needed each day.
    base, need = NUMBERS.leaf.base_temperature, NUMBERS.leaf.out_requirement
    tmean = np.full((DAYS, 2), base)
    tmean[10:, 0] = base + need / 10
    assert leaf_out_day(tmean, NUMBERS.leaf).tolist() == [20, DAYS]
    # The running mean is below the limit once the last warm day has left it; a cool spring,
    # even up to the day before midsummer, does not count.
    days, limit = int(NUMBERS.leaf.fall_days), NUMBERS.leaf.fall_below
    tmean = np.full((DAYS, 3), limit)
    tmean[250:, 0] = limit - 0.1
    tmean[:181, 1] = limit - 5
    tmean[181 : 182 + days, 1] = limit + 50
    tmean[182:, 2] = limit - 0.1
    assert leaf_fall_day(tmean, NUMBERS.leaf).tolist() == [250, DAYS, 182]


def test_a_growing_season_of_one_day_has_that_day_only():
    step = int(NUMBERS.inoculation.turn_days)
    inoculated = date(2027, 3, 1)
    only = inoculated + 2 * timedelta(days=step)
    until = inoculated + timedelta(days=6 * step)
    assert turning_days(
        inoculated, until, (only, only), turn_days=NUMBERS.inoculation.turn_days
    ) == (only,)
