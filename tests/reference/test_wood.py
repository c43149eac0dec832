"""Wood and water against the Wood Handbook, moisture bases and weights against plain figures."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.biology.wood import (
    dry_from_wet,
    dry_mass,
    equilibrium_moisture,
    fresh_mass,
    fresh_moisture,
    log_volume,
    saturation_moisture,
    surface_per_dry_mass,
    wet_from_dry,
)
from fruitcast.numbers import default_numbers


def test_equilibrium_moisture_table_4_2():
    # Wood Handbook table 4-2 at 21.1 degC (70 F), from memory. Printed to 0.1 %.
    rh = np.array([20, 30, 40, 50, 60, 70, 80, 90, 95])
    table = np.array([4.5, 6.2, 7.7, 9.2, 11.0, 13.1, 16.0, 20.5, 23.9])
    np.testing.assert_allclose(100 * equilibrium_moisture(21.1, rh), table, atol=0.05)


def test_equilibrium_moisture_is_defined_in_any_weather():
    t, rh = np.meshgrid(np.linspace(-40, 55, 96), np.linspace(0, 100, 101))
    emc = equilibrium_moisture(t, rh)
    assert np.all((emc >= 0) & (emc < 0.45))
    above_frost = t[0] > -10  # frozen logs exchange nothing, see the water balance
    assert np.all(np.diff(emc[:, above_frost], axis=0) > 0), "moister air, moister wood"


@pytest.mark.parametrize(
    ("wet", "dry"),
    # Per cent, computed by hand: dry = wet / (1 - wet).
    [(20, 25.0), (23, 29.9), (25, 33.3), (30, 42.9), (35, 53.8), (40, 66.7), (45, 81.8), (50, 100)],
)
def test_bases_of_moisture(wet, dry):
    assert 100 * dry_from_wet(wet / 100) == pytest.approx(dry, abs=0.05)
    assert 100 * wet_from_dry(dry_from_wet(wet / 100)) == pytest.approx(wet)


@given(st.floats(0, 0.9))
def test_bases_invert_each_other(wet):
    assert wet_from_dry(dry_from_wet(wet)) == pytest.approx(wet, abs=1e-12)


def test_log_of_oak_weighs_about_13_kg():
    # A 12.7 x 102 cm oak log weighs about 13 kg (green densities from memory, see the numbers).
    numbers = default_numbers()
    for tree in ("white oak", "red oak"):
        mass = fresh_mass(0.127, 1.02, numbers.tree(tree).density)
        assert mass == pytest.approx(13, abs=0.5)


def test_fresh_weight_is_dry_wood_and_its_water():
    numbers = default_numbers()
    for tree in numbers.trees:
        gravity = numbers.tree(tree).specific_gravity
        density = numbers.tree(tree).density
        moisture = fresh_moisture(density, gravity)
        assert 0.45 < moisture <= saturation_moisture(gravity), tree
        assert dry_mass(0.1, 1.0, gravity) * (1 + moisture) == pytest.approx(
            float(fresh_mass(0.1, 1.0, density))
        ), tree


def test_saturated_wood_has_no_air_left():
    # Volume of cell wall (1.54 times as heavy as water) and of water make up the green volume.
    gravity = np.array([0.37, 0.5, 0.6])
    water, wall = gravity * saturation_moisture(gravity), gravity / 1.54
    np.testing.assert_allclose(water + wall, 1.0)


def test_surface_and_volume_of_a_cylinder():
    assert log_volume(0.1, 1.0) == pytest.approx(0.007854, abs=5e-7)
    bark = np.pi * 0.1 * 1.0
    assert surface_per_dry_mass(0.1, 0.6) == pytest.approx(bark / float(dry_mass(0.1, 1.0, 0.6)))


@pytest.mark.parametrize("celsius", [-10, 0, 20, 40, 60])
@pytest.mark.parametrize("rh", [20, 50, 80, 95])
def test_equilibrium_moisture_is_the_same_by_the_handbook_s_form_for_fahrenheit(celsius, rh):
    # Wood Handbook eq. 4-5 with the coefficients for degF, from memory. The two sets are rounded
    # apart and part by less than 1 in 1000.
    t, h = celsius * 9 / 5 + 32, rh / 100
    w = 330 + 0.452 * t + 0.00415 * t**2
    kh = (0.791 + 0.000463 * t - 0.000000844 * t**2) * h
    k1 = 6.34 + 0.000775 * t - 0.0000935 * t**2
    k2 = 1.09 + 0.0284 * t - 0.0000904 * t**2
    hydrate = (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)
    per_cent = 1800 / w * (kh / (1 - kh) + hydrate)
    assert 100 * equilibrium_moisture(celsius, rh) == pytest.approx(per_cent, rel=1e-3)
