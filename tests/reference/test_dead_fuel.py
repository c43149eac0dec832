"""Drying of logs against the heavy dead wood of fire weather: a curve for the tendency only.

Cohen, J.D., Deeming, J.E. 1985. The National Fire-Danger Rating System: basic equations. USDA
Forest Service General Technical Report PSW-82; equilibrium moisture there after Simard 1968. The
1000-hour class is dead wood of 7.6 to 20 cm, a log's size. The equations hold below fibre
saturation (about 30 % dry basis); a bearing log lives above it, so they check direction and pace
of drying, never a log's moisture. They are written out here, as only the tests use them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from fruitcast.biology.evaporation import open_evaporation
from fruitcast.biology.moisture import drying_rate, simulate_moisture
from fruitcast.biology.wood import equilibrium_moisture
from fruitcast.numbers import default_numbers

WEEKLY = 1 - 0.82 * math.exp(-0.168)


def simard(fahrenheit: float, rh: float) -> float:
    """Equilibrium moisture of PSW-82. [% dry basis]"""
    if rh < 10:
        return 0.03229 + 0.281073 * rh - 0.000578 * fahrenheit * rh
    if rh < 50:
        return 2.22749 + 0.160107 * rh - 0.014784 * fahrenheit
    return 21.0606 + 0.005565 * rh**2 - 0.00035 * rh * fahrenheit - 0.483199 * rh


def boundary(emc: float, rain_hours: float) -> float:
    """Boundary moisture of a day with so many hours of rain, 8 at most. [%]"""
    p = min(rain_hours, 8.0)
    return ((24 - p) * emc + p * (2.7 * p + 76)) / 24


def heavy_fuel(start: float, mean_boundary: list[float]) -> list[float]:
    """Moisture after each week, from the week's mean boundary. [%]"""
    moisture = [start]
    for level in mean_boundary:
        moisture.append(moisture[-1] + (level - moisture[-1]) * WEEKLY)
    return moisture[1:]


def test_equations_are_written_out_right():
    # Values worked from the published equations, by hand.
    assert pytest.approx(0.3068, abs=5e-5) == WEEKLY
    assert [boundary(15, p) for p in (0, 2, 8)] == pytest.approx([15.0, 20.53, 42.53], abs=5e-3)
    assert heavy_fuel(30, [12.63] * 4) == pytest.approx([24.67, 20.98, 18.42, 16.64], abs=5e-3)


def test_equilibrium_of_both_sources_tells_the_same():
    # Simard's fit and the handbook's equation describe the same wood: within 1.5 points.
    for celsius in (5, 15, 25, 35):
        for rh in (15, 30, 50, 70, 85):
            theirs = simard(celsius * 9 / 5 + 32, rh)
            assert 100 * equilibrium_moisture(celsius, rh) == pytest.approx(theirs, abs=1.5)


def test_a_log_in_its_bark_dries_at_one_to_four_times_the_reference_time():
    # The reference nears its boundary with an e-folding time of 7 / -ln(1 - 0.3068) = 19 days.
    reference = -7 / math.log(1 - WEEKLY)
    assert reference == pytest.approx(19.1, abs=0.05)
    summer = open_evaporation(16.0, 29.0, 22.5, 40.0, np.arange(152, 244)).mean()
    ours = 1 / float(drying_rate(summer, 0.15, default_numbers().moisture))
    assert reference <= ours <= 4 * reference


def run_dry_log(tmin: float, tmax: float, rh: float, start: float, weeks: int) -> np.ndarray:
    """Weekly moisture of a 15 cm log in the open without rain. [% dry basis]"""
    days = 7 * weeks
    constant = {"tmin": tmin, "tmax": tmax, "tmean": (tmin + tmax) / 2, "rain": 0.0, "rh": rh}
    run = simulate_moisture(
        start / 100,
        **{name: np.full((days, 1), value) for name, value in constant.items()},
        latitude=40.0,
        day_of_year=np.arange(152, 152 + days),
        shade=0.0,
        diameter=0.15,
        specific_gravity=0.58,
        balance=default_numbers().moisture,
        watering=default_numbers().watering,
        shade_effect=default_numbers().log.shade_effect,
    )
    return 100 * run.moisture[6::7, 0]


@pytest.mark.parametrize(("start", "rh"), [(30, 40), (30, 65), (25, 85), (8, 85)])
def test_logs_move_the_way_the_reference_moves(start, rh):
    tmin, tmax, weeks = 15.0, 27.0, 8
    emc = simard((tmin + tmax) / 2 * 9 / 5 + 32, rh)
    reference = np.array(heavy_fuel(start, [boundary(emc, 0)] * weeks))
    ours = run_dry_log(tmin, tmax, rh, start, weeks)
    towards = np.sign(emc - start)
    assert np.all(towards * np.diff(np.concatenate([[start], ours])) > 0), "same direction"
    # A log in its bark lags behind bare dead wood, and comes to rest at the same level.
    assert np.all(towards * (reference - ours) > -1.5)
    assert abs(ours[-1] - emc) < abs(start - emc)
