"""Bearing years, seasons, the life of a log."""

from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.biology.yields import (
    bearing_life,
    bearing_year,
    first_bearing_season,
    hemisphere,
    season,
    season_gone,
    share_given,
    should_retire,
    year_share_factor,
    years_borne,
    years_gone,
)
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()
LATE = NUMBERS.yields.late_ready_days


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


def shares(life, yields):
    """What each whole bearing year gives of the life's crop."""
    return np.diff(share_given(np.arange(life + 1), life, yields))


def test_a_four_year_log_gives_a_sixth_a_third_a_third_a_sixth():
    # Univ. of Maryland RES-11, read in quotation.
    assert shares(4, NUMBERS.yields) == pytest.approx([1 / 6, 1 / 3, 1 / 3, 1 / 6])


def test_shares_of_the_grower_s_own_are_those_of_the_quarters_in_order():
    own = {f"yield.share_{quarter}": quarter / 10 for quarter in (1, 2, 3, 4)}
    numbers = NUMBERS.with_overrides(own)
    assert shares(4, numbers.yields) == pytest.approx([0.1, 0.2, 0.3, 0.4])
    assert share_given([2, 4, 6, 8], 8, numbers.yields) == pytest.approx([0.1, 0.3, 0.6, 1.0])


@pytest.mark.parametrize("life", range(1, 11))
def test_shares_of_any_life_add_up_and_peak_in_the_middle(life):
    years = np.arange(1, life + 1)
    given = shares(life, NUMBERS.yields)
    assert given.sum() == pytest.approx(1)
    assert given == pytest.approx(given[::-1])
    factors = year_share_factor(years, life, NUMBERS.yields)
    assert factors.max() == pytest.approx(1)
    assert factors == pytest.approx(given / given.max())
    assert share_given(life, life, NUMBERS.yields) == pytest.approx(1)
    assert share_given(life + 3, life, NUMBERS.yields) == pytest.approx(1)


def test_nothing_before_bearing_and_a_fading_tail_past_the_life():
    assert year_share_factor([-1, 0, 4, 5, 6], 4, NUMBERS.yields) == pytest.approx(
        [0, 0, 0.5, 0.25, 0.125]
    )


@pytest.mark.parametrize("life", [1, 4, 5, 8])
def test_a_season_s_share_follows_its_years_without_a_jump_once_it_bears(life):
    years = np.arange(0.001, life + 4, 0.001)
    factors = year_share_factor(years, life, NUMBERS.yields)
    # A season that has just begun to bear gives by the day what the first quarter does.
    first = share_given(0.001, life, NUMBERS.yields) / 0.001 / shares(life, NUMBERS.yields).max()
    assert factors[0] == pytest.approx(first)
    assert np.abs(np.diff(factors)).max() < 0.01
    # Brute force: a day at a time through a life that fades past its end.
    daily = np.diff(share_given(np.arange(0, life + 0.0005, 0.001), life, NUMBERS.yields))
    last = daily[-1000:].sum() / 1000
    for year in range(4):
        fade = NUMBERS.yields.past_life_factor ** (year + 1)
        daily = np.append(daily, np.full(1000, last * fade))
    for at in (400, 1000, 1700, 1000 * life, 1000 * life + 700, 1000 * life + 2300):
        mean = daily[max(at - 1000, 0) : at].mean() * 1000 / shares(life, NUMBERS.yields).max()
        assert year_share_factor(at / 1000, life, NUMBERS.yields) == pytest.approx(mean, rel=1e-6)


@pytest.mark.parametrize("where", ["north", "south"])
def test_a_day_later_makes_a_stack_a_little_younger_never_a_year(where):
    days = [date(2024, 1, 1) + timedelta(days=n) for n in range(3 * 365)]
    asked = season(date(2029, 8, 1), where)
    borne = np.array([years_borne(day, asked, where, late_ready_days=LATE) for day in days])
    steps = np.diff(borne)
    assert np.all(steps <= 0)
    assert -steps.min() <= 1.01 / (365 - 2 * NUMBERS.yields.late_ready_days)
    assert borne[0] - borne[365] == pytest.approx(1, abs=0.01)
    gone = [years_gone(day, date(2029, 8, 1), where, late_ready_days=LATE) for day in days]
    assert np.abs(np.diff(gone)).max() < 0.01


def test_years_go_by_through_the_season_and_none_before_the_first():
    ready = date(2026, 3, 10)  # before a season's first mushrooms: a whole first year
    assert years_borne(ready, 2025, "north", late_ready_days=LATE) == 0
    assert [years_borne(ready, s, "north", late_ready_days=LATE) for s in (2026, 2027, 2028)] == [
        1,
        2,
        3,
    ]
    assert years_gone(ready, date(2027, 1, 1), "north", late_ready_days=LATE) == 1
    assert years_gone(ready, date(2028, 7, 1), "north", late_ready_days=LATE) == pytest.approx(
        2 + 182 / 366
    )
    late = date(2026, 11, 20)
    assert years_borne(late, 2026, "north", late_ready_days=LATE) == 0
    assert years_borne(late, 2027, "north", late_ready_days=LATE) == 1
    midsummer = date(2026, 7, 2)
    assert years_borne(midsummer, 2026, "north", late_ready_days=LATE) == pytest.approx(
        0.5, abs=0.01
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
