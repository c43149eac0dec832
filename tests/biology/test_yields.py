"""What a log gives in one flush and in its life."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.biology.yields import (
    bearing_life,
    lifetime_yield,
    rest_factor,
    share_given,
    size_factor,
    stack_factor,
    temperature_factor,
    wear_factor,
)
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()
CLASSES = ("cold-weather", "wide-range", "warm-weather")


def test_the_reference_log_has_factor_one():
    assert size_factor(0.127, 1.02) == 1
    assert NUMBERS.tree("red oak").yield_factor == 1
    assert rest_factor(NUMBERS.yields.rest_reference, NUMBERS.yields) == pytest.approx(1)
    assert stack_factor(NUMBERS.tree("red oak"), 0.127, 1.02, 3, NUMBERS.yields) == pytest.approx(1)


def test_base_yield_lies_in_the_common_range_and_wide_range_bears_most():
    # 113-227 g a log and flush, wide-range heaviest in total: common practice.
    bases = {c: NUMBERS.strain(c).yields.base for c in CLASSES}
    assert all(0.113 <= base <= 0.227 for base in bases.values())
    assert max(bases, key=bases.get) == "wide-range"


@given(st.floats(0, 2000), st.floats(0, 2000))
def test_longer_rest_never_gives_less(one, other):
    short, long = rest_factor(np.array(sorted((one, other))), NUMBERS.yields)
    assert short <= long


def test_no_crop_while_the_log_is_being_picked_and_a_limit_to_what_rest_does():
    assert rest_factor([0, 14], NUMBERS.yields).tolist() == [0, 0]
    assert 1.2 < rest_factor(np.inf, NUMBERS.yields) < 1.5
    assert rest_factor(35, NUMBERS.yields) < 0.75  # five weeks weaken the log


def test_species_differ_as_published():
    # Frey et al. 2020, HortTechnology 30(6):741: sweetgum as good as white oak, red maple
    # less, ailanthus unsuitable.
    assert NUMBERS.tree("sweetgum").yield_factor == NUMBERS.tree("white oak").yield_factor
    assert NUMBERS.tree("red maple").yield_factor < NUMBERS.tree("white oak").yield_factor
    assert NUMBERS.tree("ailanthus").yield_factor < 0.3
    assert NUMBERS.tree("quince").yield_factor == NUMBERS.tree("other hardwood").yield_factor


@pytest.mark.parametrize(
    ("strain_class", "best"), [("cold-weather", 11.5), ("wide-range", 18), ("warm-weather", 22.5)]
)
def test_each_class_is_best_in_its_own_range(strain_class, best):
    t = np.linspace(-10, 45, 1101)
    factor = temperature_factor(NUMBERS.strain(strain_class).range, t, NUMBERS.yields)
    assert temperature_factor(NUMBERS.strain(strain_class).range, best, NUMBERS.yields) == 1
    assert factor.min() == 0 and factor.max() == 1
    assert np.all(np.diff(factor[t <= best]) >= 0) and np.all(np.diff(factor[t >= best]) <= 0)


def test_a_summer_soak_of_a_cold_weather_strain_gives_nothing():
    assert temperature_factor(NUMBERS.strain("cold-weather").range, 23.0, NUMBERS.yields) == 0


def test_the_crop_of_a_life_grows_with_the_wood():
    small = lifetime_yield(
        NUMBERS.strain("wide-range").yields.base, NUMBERS.tree("red oak"), 0.10, 1.0, NUMBERS.yields
    )
    large = lifetime_yield(
        NUMBERS.strain("wide-range").yields.base, NUMBERS.tree("red oak"), 0.20, 1.0, NUMBERS.yields
    )
    assert 3.3 <= large / small <= 4.7  # four times the wood
    assert lifetime_yield(
        NUMBERS.strain("wide-range").yields.base, NUMBERS.tree("red oak"), 0.10, 2.0, NUMBERS.yields
    ) == pytest.approx(2 * small)


def test_wear_follows_what_was_picked():
    life = bearing_life(0.127, NUMBERS.tree("red oak"), NUMBERS.yields)
    due = float(share_given(2, life, NUMBERS.yields))
    assert wear_factor(due, 2, life, NUMBERS.yields) == pytest.approx(1)
    assert (
        wear_factor(due / 2, 2, life, NUMBERS.yields) == 1
    )  # little picked: not more than the table
    assert wear_factor(due + (1 - due) / 2, 2, life, NUMBERS.yields) == pytest.approx(0.5)
    assert wear_factor(1.3, 2, life, NUMBERS.yields) == pytest.approx(NUMBERS.yields.wear_least)
    assert wear_factor(np.nan, 2, life, NUMBERS.yields) == 1  # nobody weighed


def test_wear_past_the_life_is_left_to_the_fading_years():
    assert wear_factor([0.9, 1.2], 9, 5.0, NUMBERS.yields).tolist() == [1, 1]
