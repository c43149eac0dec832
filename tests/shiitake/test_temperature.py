"""How fast the fungus works at a temperature."""

import numpy as np
import pytest

from fruitcast.shiitake.temperature import beta_response, degree_days, range_fit


@pytest.mark.parametrize(
    ("celsius", "speed"),
    [(10, 0.06), (15, 0.34), (20, 0.75), (22, 0.90), (25, 1.00), (28, 0.85), (30, 0.54)],
)
def test_beta_response_gives_the_computed_check_values(celsius, speed):
    # Form: Yan & Hunt 1999, Annals of Botany 84:607-614, base temperature from memory.
    # Values computed by hand for base 5, optimum 25, maximum 32; two digits are printed.
    assert beta_response(celsius, 5, 25, 32) == pytest.approx(speed, abs=0.005)


def test_beta_response_with_base_zero_is_the_published_form():
    # Yan & Hunt 1999, eq. for r/Rmax with the base at 0 C, written out as they do.
    t = np.linspace(0.5, 40.5, 81)
    optimum, maximum = 31.0, 41.0
    written_out = ((maximum - t) / (maximum - optimum)) * (t / optimum) ** (
        optimum / (maximum - optimum)
    )
    assert beta_response(t, 0, optimum, maximum) == pytest.approx(written_out)


def test_nothing_grows_outside_the_limits_and_nothing_beats_the_optimum():
    t = np.linspace(-40, 60, 2001)
    speed = beta_response(t, 5, 25, 32)
    assert np.all(speed[(t <= 5) | (t >= 32)] == 0)
    assert t[np.argmax(speed)] == pytest.approx(25)
    assert speed.max() == pytest.approx(1)


def test_degree_days_count_above_the_base_and_stop_at_the_cap():
    assert degree_days([-3, 5, 15, 25, 35], 5, 25).tolist() == [0, 0, 10, 20, 20]


def test_range_fit_is_a_trapezoid():
    fit = range_fit([6, 7, 11, 15, 18, 21, 24.5, 28, 30], 7, 15, 21, 28)
    assert fit == pytest.approx([0, 0, 0.5, 1, 1, 1, 0.5, 0, 0])


def test_range_fit_survives_limits_that_coincide():
    assert range_fit([9, 10, 11], 10, 10, 12, 12) == pytest.approx([0, 1, 1])
