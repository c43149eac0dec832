"""The dew point: against another program, and how wrong the night's minimum is in its place."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from fruitcast.biology.evaporation import (
    mean_relative_humidity,
    mean_saturation_vapour_pressure,
    saturation_vapour_pressure,
)
from fruitcast.biology.wood import equilibrium_moisture
from tests.reference.fao56 import dew_point
from tests.requires import need, need_file


def test_dew_point_agrees_with_psychrolib(monkeypatch):
    # With numba it would compile all its functions for these few numbers.
    monkeypatch.setitem(sys.modules, "numba", None)
    psychrolib = need("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    for temperature in (1.0, 10.0, 20.0, 30.0, 40.0):
        for rh in (0.2, 0.5, 0.8, 0.99):
            theirs = psychrolib.GetTDewPointFromRelHum(temperature, rh)
            if theirs < 0:
                continue  # below 0 degC psychrolib means the frost point, over ice
            ours = dew_point(rh * saturation_vapour_pressure(temperature))
            # psychrolib's saturation curve is ASHRAE's of many terms; eq. 11 of FAO-56 is short.
            assert ours == pytest.approx(theirs, abs=0.05)


def read_wageningen() -> np.ndarray:
    """Daily tmin, tmax [degC] and vapour pressure [kPa], Wageningen (Haarweg) 1976-1999.

    Files NL1.976 to NL1.999 of the pcse package, station data compiled by P. Uithol; the vapour
    pressure was read in the early morning. Left out: -99 (missing), some ninety filler rows of
    1986 to 1989 (1, 1, 3 or the like, with the day's proper row beside them), and seven slips of
    the pen (a dew point above the day's maximum, or under 0.1 kPa).
    """
    folder = need_file("pcse", "tests/test_data")
    years = []
    for year in range(1976, 2000):
        lines = (folder / f"NL1.{year % 1000:03d}").read_text(encoding="latin-1").splitlines()
        rows = [line.split() for line in lines if not line.startswith("*")][1:]
        years.append(
            np.array([[float(r[4]), float(r[5]), float(r[6])] for r in rows if len(r) > 6])
        )
    table = np.concatenate(years)
    tmin, tmax, pressure = table.T
    sound = (tmin > -90) & (tmin < tmax) & (pressure > 0.1)
    return table[sound & (pressure <= saturation_vapour_pressure(tmax))]


def test_minimum_for_dew_point_at_wageningen(capsys):
    tmin, tmax, pressure = read_wageningen().T
    assert tmin.size > 8000
    error = tmin - dew_point(pressure)
    saturation = mean_saturation_vapour_pressure(tmin, tmax)
    measured = np.minimum(100 * pressure / saturation, 100)
    estimated = mean_relative_humidity(tmin, tmax, np.nan)
    rh_error = estimated - measured
    tmean = (tmin + tmax) / 2
    emc_error = 100 * (
        equilibrium_moisture(tmean, estimated) - equilibrium_moisture(tmean, measured)
    )
    with capsys.disabled():
        print(
            f"\nWageningen 1976-1999, {tmin.size} days, Tmin less dew point: bias "
            f"{error.mean():+.2f} C, spread (sd) {error.std():.2f} C; mean humidity "
            f"{rh_error.mean():+.1f} % (sd {rh_error.std():.1f}); equilibrium wood moisture "
            f"{emc_error.mean():+.2f} % dry basis (sd {emc_error.std():.2f})"
        )
    # Loose: a maritime site, where the rule should be nearly right on average. Dew points above
    # the minimum are no contradiction: by the morning reading, dew has evaporated again.
    assert abs(error.mean()) < 1.5
    assert error.std() < 3
    assert abs(rh_error.mean()) < 8
    assert abs(emc_error.mean()) < 2.5
