"""Real daily weather for the checks, read by path from an installed package; none is copied.

Champion, Nebraska, 1982-2018 (dry, continental), Brussels, 1976-2005 (twice as wet, oceanic)
and the other places of `LATITUDES` but one come with the aquacrop package: `pip install
--no-deps aquacrop`. Wageningen, Netherlands, 1976-1999, comes with pcse, in the same way.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache, cached_property

import numpy as np

from fruitcast.biology.moisture import simulate_moisture
from fruitcast.numbers import Numbers, default_numbers
from tests.requires import need_file

LATITUDES = {
    "champion": 40.4,
    "brussels": 50.8,
    "cambridge": 52.2,
    "northumberland": 55.2,
    "north_yorks": 54.2,
    "tunis": 36.8,
    "hyderabad": 17.4,
    "wageningen": 52.0,
}
KEEP_ABOVE_WET = 0.35  # the default of [watering] keep_above
SHADE = 0.8


@dataclass(frozen=True)
class Series:
    """Daily weather as (day, column) arrays, with watering and log moisture once watered."""

    name: str
    start: date
    tmin: np.ndarray
    tmax: np.ndarray
    rain: np.ndarray
    moisture: np.ndarray | None = None

    @property
    def tmean(self):
        return (self.tmin + self.tmax) / 2

    @cached_property
    def days(self):
        return [self.start + timedelta(days=i) for i in range(len(self.tmin))]

    @cached_property
    def months(self):
        return np.array([day.month for day in self.days])

    @cached_property
    def years(self):
        return np.array([day.year for day in self.days])


@cache
def series(name: str) -> Series:
    """Return the weather of a place, for reading only."""
    if name == "wageningen":
        return _wageningen()
    path = need_file("aquacrop", f"data/{name}_climate.txt")
    table = np.loadtxt(path, skiprows=1)
    table.setflags(write=False)
    day, month, year = table[0, :3].astype(int)
    return Series(name, date(year, month, day), *(table[:, [i]] for i in (3, 4, 5)))


def _wageningen() -> Series:
    """Station data compiled by P. Uithol; days that are missing or odd are bridged, rain is 0."""
    folder = need_file("pcse", "tests/test_data")
    start = date(1976, 1, 1)
    table = np.full(((date(2000, 1, 1) - start).days, 3), np.nan)
    for year in range(1976, 2000):
        lines = (folder / f"NL1.{year % 1000:03d}").read_text(encoding="latin-1").splitlines()
        for cells in (line.split() for line in lines if not line.startswith("*")):
            if len(cells) == 9 and cells[1] == str(year):
                row = (date(year, 1, 1) - start).days + int(cells[2]) - 1
                table[row] = [float(cells[4]), float(cells[5]), float(cells[8])]
    table[(table[:, 0] < -50) | (table[:, 0] >= table[:, 1])] = np.nan
    days = np.arange(len(table))
    known = np.isfinite(table[:, 0])
    assert known.mean() > 0.98
    for column in (0, 1):
        table[:, column] = np.interp(days, days[known], table[known, column])
    table[:, 2] = np.maximum(np.nan_to_num(table[:, 2]), 0.0)
    return Series("wageningen", start, *(table[:, [i]] for i in range(3)))


def watered(weather: Series, numbers: Numbers) -> Series:
    """Water 12.7 x 102 cm red oak logs to the default; watering counts as rain."""
    run = simulate_moisture(
        0.7,
        tmin=weather.tmin,
        tmax=weather.tmax,
        tmean=weather.tmean,
        rain=weather.rain,
        rh=None,
        latitude=LATITUDES[weather.name],
        day_of_year=np.array([day.timetuple().tm_yday for day in weather.days]),
        shade=SHADE,
        diameter=0.127,
        specific_gravity=numbers.tree("red oak").specific_gravity,
        balance=numbers.moisture,
        watering=numbers.watering,
        shade_effect=numbers.log.shade_effect,
        keep_above_wet=KEEP_ABOVE_WET,
    )
    return Series(
        weather.name,
        weather.start,
        weather.tmin,
        weather.tmax,
        weather.rain + run.watered,
        run.moisture,
    )


@cache
def watered_series(name: str) -> Series:
    """Return the weather of a place with logs watered as a yard that says nothing waters them."""
    return watered(series(name), default_numbers())
