"""How fast the fungus works at a temperature."""

import numpy as np
import pytest

from fruitcast.biology.run_length import degree_days
from fruitcast.biology.spawn_run import cardinal_response, log_course
from fruitcast.biology.yields import temperature_factor
from fruitcast.numbers import default_numbers
from fruitcast.topics import StrainRange


@pytest.mark.parametrize(
    ("celsius", "speed"),
    [
        (0, 0),
        (5, 675 / 9875),
        (10, 2200 / 8500),
        (15, 3825 / 7125),
        (20, 4800 / 5750),
        (25, 1),
        (28, 3136 / 3550),
        (30, 1800 / 3000),
        (32, 0),
    ],
)
def test_cardinal_response_gives_the_values_worked_out_by_hand(celsius, speed):
    # Form: Rosso, Lobry, Bajard & Flandrois 1993, J. Theor. Biol. 162:447-463, from memory.
    # Worked out on paper for base 0, optimum 25, maximum 32.
    found = cardinal_response(celsius, base=0, optimum=25, maximum=32)
    assert found == pytest.approx(speed, abs=1e-12)


@pytest.mark.parametrize(("base", "optimum", "maximum"), [(0, 25, 32), (5, 25, 32), (-3, 30, 34)])
def test_cardinal_response_is_flat_at_optimum_and_base_and_nothing_beats_it(base, optimum, maximum):
    # What defines the form: nothing at both ends, one at the optimum, level at optimum and base.
    def speed(t):
        return cardinal_response(t, base=base, optimum=optimum, maximum=maximum)

    step = 1e-5
    for level in (optimum, base + step):
        assert (speed(level + step) - speed(level - step)) / (2 * step) == pytest.approx(
            0, abs=1e-4
        )
    t = np.linspace(-40, 60, 10001)
    assert np.all(speed(t)[(t <= base) | (t >= maximum)] == 0)
    assert t[np.argmax(speed(t))] == pytest.approx(optimum, abs=0.01)
    assert speed(t).max() == pytest.approx(1)
    below = (t > base) & (t < optimum)
    assert np.all(np.diff(speed(t[below])) > 0)


def test_a_log_s_day_is_that_of_a_body_that_follows_the_air():
    # Outside: the lag integrated in small steps over ten days of a sine between 8 and 24 C.
    step, lag = 0.001, 1.5
    hours = np.arange(0, 240, step)
    air = 16 - 8 * np.cos(2 * np.pi * hours / 24)
    log = np.empty_like(air)
    log[0] = 16
    for i in range(1, len(hours)):
        log[i] = log[i - 1] + step / lag * (air[i - 1] - log[i - 1])
    day = log[-int(24 / step) :]
    course = log_course(8.0, 24.0, shade=0.0, cooling=0.2, lag=lag)
    assert course.mean() == pytest.approx(day.mean(), abs=0.01)
    assert course.std() == pytest.approx(day.std(), rel=0.002)

    def speed(t):
        return cardinal_response(t, base=0, optimum=25, maximum=32)

    # Four moments are less exact on days that cross the steep hot limb: two hundredths there.
    for low, high, near in ((8, 24, 0.002), (-4, 10, 0.005), (18, 36, 0.02)):
        swing = (high - low) / 2 * day.std() * np.sqrt(2) / 8
        fine = (low + high) / 2 + swing * np.cos(2 * np.pi * np.arange(100_000) / 100_000)
        course = log_course(low, high, shade=0.0, cooling=0.2, lag=lag)
        assert speed(course).mean() == pytest.approx(speed(fine).mean(), abs=near)


def test_shade_lowers_the_maximum_and_leaves_the_minimum():
    open_sky = log_course(10.0, 30.0, shade=0.0, cooling=0.25, lag=0.0)
    shaded = log_course(10.0, 30.0, shade=0.8, cooling=0.25, lag=0.0)
    assert shaded == pytest.approx(log_course(10.0, 26.0, shade=0.0, cooling=0.25, lag=0.0))
    assert open_sky.mean() - shaded.mean() == pytest.approx(2.0)


def test_degree_days_count_above_the_base_and_stop_at_the_cap():
    assert degree_days([-3, 5, 15, 25, 35], 5, 25).tolist() == [0, 0, 10, 20, 20]


def test_temperature_factor_is_a_trapezoid():
    fruits = StrainRange(lower=8, best_low=15, best_high=21, upper=27)
    fit = temperature_factor(
        fruits,
        [6, 7, 11, 15, 18, 21, 24.5, 28, 30],
        default_numbers().yields._replace(range_margin=1),
    )
    assert fit == pytest.approx([0, 0, 0.5, 1, 1, 1, 0.5, 0, 0])


def test_temperature_factor_survives_limits_that_coincide():
    fruits = StrainRange(10, 10, 12, 12)
    assert temperature_factor(
        fruits, [9, 10, 11], default_numbers().yields._replace(range_margin=0)
    ) == pytest.approx([0, 1, 1])


@pytest.mark.parametrize(("lag", "left"), [(0.0, 1.0), (1.0, 0.5**0.5), (np.sqrt(3), 0.5)])
def test_a_lag_in_radians_of_the_day_leaves_its_share_of_the_swing(lag: float, left: float) -> None:
    # Of a swing of angular speed w a first-order lag leaves 1 / sqrt(1 + (w lag)^2); the standard
    # deviation of a sine is its half swing over the root of two.
    course = log_course(10.0, 26.0, shade=0.0, cooling=0.3, lag=lag * 24 / (2 * np.pi))
    assert course.mean() == pytest.approx(18.0)
    assert course.std() == pytest.approx(8.0 / np.sqrt(2) * left)
