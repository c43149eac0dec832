"""Bearing years, seasons, the life of a log."""

from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.numbers import default_numbers
from fruitcast.shiitake.bearing import (
    bearing_life,
    bearing_year,
    first_bearing_season,
    hemisphere,
    season,
    season_gone,
    share_given,
    should_retire,
    year_share,
    year_share_factor,
)

NUMBERS = default_numbers()


def test_seasons_turn_at_midwinter():
    assert season(date(2026, 12, 31), "north") == 2026
    assert season(date(2027, 1, 1), "north") == 2027
    assert season(date(2027, 6, 30), "south") == 2026
    assert season(date(2027, 7, 1), "south") == 2027
    assert hemisphere(-41.0) == "south"
    assert hemisphere(40.0) == hemisphere(0.0) == "north"


@pytest.mark.parametrize(
    ("on", "where", "gone"),
    [
        (date(2027, 1, 1), "north", 0.0),
        (date(2027, 12, 31), "north", 364 / 365),
        (date(2028, 7, 1), "north", 182 / 366),
        (date(2027, 7, 1), "south", 0.0),
        (date(2027, 6, 30), "south", 364 / 365),
        # July to February's last day but one, of a season of 366 days.
        (date(2028, 2, 28), "south", 242 / 366),
    ],
)
def test_the_share_of_a_season_gone_is_counted_from_its_own_midwinter(on, where, gone):
    assert season_gone(on, where) == pytest.approx(gone, rel=1e-12)


@pytest.mark.parametrize(
    ("ready", "on", "where", "year"),
    [
        (date(2026, 6, 10), date(2026, 8, 1), "north", 1),
        (date(2026, 6, 10), date(2026, 12, 31), "north", 1),
        (date(2026, 6, 10), date(2027, 1, 1), "north", 2),
        (date(2026, 11, 20), date(2027, 5, 1), "north", 1),  # ready too late to bear in 2026
        (date(2026, 11, 20), date(2026, 12, 1), "north", 0),
        (date(2026, 12, 10), date(2027, 3, 1), "south", 1),
        (date(2026, 12, 10), date(2027, 6, 30), "south", 1),
        (date(2026, 12, 10), date(2027, 7, 1), "south", 2),
        (date(2026, 5, 20), date(2026, 9, 1), "south", 1),
    ],
)
def test_bearing_years_are_counted_by_seasons(ready, on, where, year):
    assert bearing_year(ready, on, where, late_ready_days=NUMBERS.yields.late_ready_days) == year


@pytest.mark.parametrize(
    ("diameter", "tree", "life"),
    [(0.10, "red oak", 4), (0.127, "red oak", 5), (0.20, "white oak", 8), (0.02, "red oak", 1)],
)
def test_about_one_year_for_each_inch_of_dense_wood(diameter, tree, life):
    # Common practice; about eight years for dense wood at the upper size.
    assert bearing_life(diameter, NUMBERS.tree(tree), NUMBERS.yields) == life


def test_soft_maple_and_sweetgum_end_sooner():
    # Published without a figure: Univ. of Kentucky FOR-90, abstract.
    oak = bearing_life(0.127, NUMBERS.tree("red oak"), NUMBERS.yields)
    assert bearing_life(0.127, NUMBERS.tree("red maple"), NUMBERS.yields) < oak
    assert bearing_life(0.127, NUMBERS.tree("sweetgum"), NUMBERS.yields) < oak


def test_a_four_year_log_gives_a_sixth_a_third_a_third_a_sixth():
    # Univ. of Maryland RES-11, read in quotation.
    assert year_share([1, 2, 3, 4], 4, NUMBERS.yields) == pytest.approx(
        [1 / 6, 1 / 3, 1 / 3, 1 / 6]
    )


def test_shares_of_the_grower_s_own_are_those_of_the_quarters_in_order():
    own = {f"yield.share_{quarter}": quarter / 10 for quarter in (1, 2, 3, 4)}
    numbers = NUMBERS.with_overrides(own)
    assert year_share([1, 2, 3, 4], 4, numbers.yields) == pytest.approx([0.1, 0.2, 0.3, 0.4])
    assert share_given([2, 4, 6, 8], 8, numbers.yields) == pytest.approx([0.1, 0.3, 0.6, 1.0])


@pytest.mark.parametrize("life", range(1, 11))
def test_shares_of_any_life_add_up_and_peak_in_the_middle(life):
    years = np.arange(1, life + 1)
    shares = year_share(years, life, NUMBERS.yields)
    assert shares.sum() == pytest.approx(1)
    assert shares == pytest.approx(shares[::-1])
    factors = year_share_factor(years, life, NUMBERS.yields)
    assert factors.max() == 1
    assert factors == pytest.approx(shares / shares.max())
    assert share_given(life, life, NUMBERS.yields) == pytest.approx(1)
    assert share_given(life + 3, life, NUMBERS.yields) == pytest.approx(1)


def test_nothing_before_bearing_and_a_fading_tail_past_the_life():
    assert year_share_factor([-1, 0, 4, 5, 6], 4, NUMBERS.yields) == pytest.approx(
        [0, 0, 0.5, 0.25, 0.125]
    )


def test_logs_ready_late_in_the_year_bear_from_the_next_on():
    late = int(NUMBERS.yields.late_ready_days)
    eve = date(2027, 1, 1) - timedelta(days=late)
    assert (
        first_bearing_season(
            eve - timedelta(days=1), "north", late_ready_days=NUMBERS.yields.late_ready_days
        )
        == 2026
    )
    assert (
        first_bearing_season(eve, "north", late_ready_days=NUMBERS.yields.late_ready_days) == 2027
    )


def test_second_and_third_full_years_bear_most():
    # Published: Bruhn, Mihail & Pickens 2009.
    for diameter in (0.10, 0.127):
        life = bearing_life(diameter, NUMBERS.tree("red oak"), NUMBERS.yields)
        factors = year_share_factor(np.arange(1, life + 1), life, NUMBERS.yields)
        assert 2 <= np.argmax(factors) + 1 <= 3


def test_logs_are_retired_when_poor_or_bare():
    # Common practice: under about 140 g in a season, or the bark falls off.
    poor = [0.10, 0.30, 0.30, np.nan]
    bark_off = [False, False, True, False]
    assert should_retire(poor, bark_off, retire_below=NUMBERS.yields.retire_below).tolist() == [
        True,
        False,
        True,
        False,
    ]


def test_a_log_right_at_the_limit_is_kept():
    limit = NUMBERS.yields.retire_below
    kept = should_retire(
        [limit, limit - 1e-9], [False, False], retire_below=NUMBERS.yields.retire_below
    )
    assert kept.tolist() == [False, True]
