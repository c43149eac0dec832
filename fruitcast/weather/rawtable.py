"""A weather table as found in a file, row by row, before days are put in order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fruitcast.tables.faultlist import FaultList, quoted
from fruitcast.weather.daily import VARIABLES, DailyWeather, FloatArray, Source
from fruitcast.weather.days import DayArray
from fruitcast.weather.units import Unit, unit_of

PLAUSIBLE: Mapping[str, tuple[float, float]] = {
    "tmin": (-70.0, 57.0),
    "tmax": (-70.0, 57.0),
    "tmean": (-70.0, 57.0),
    "rain": (0.0, 1000.0),
    "rh": (0.0, 100.0),
}
"""What can be true of a day where logs are laid out [C, mm, %]. Judgement: beyond what any place
with trees has seen, so that only slips of the pen, wrong units and missing-value codes fall out."""

MEAN_OUTSIDE = 5.0
"""How far a mean may lie outside lowest to highest, as when the day is counted from another hour.
Judgement. [degC]"""

_FEWEST_FOR_HOURLY = 24


@dataclass
class RawTable:
    """Rows in the order of the file, values already in C, mm and %.

    Attributes
    ----------
    name : str
        The file's name.
    lines : sequence of int
        Line number of each row, counted from 1.
    days : (row,) datetime64[D] array
        The day of each row; NaT where it could not be read.
    values : dict of str to (row,) float array
        For each variable present; NaN where missing.
    sources : dict of str to (row,) int8 array
        `Source` codes where the file tells them.
    cells : dict of str to sequence of str
        The values as given, for messages.
    units : dict of str to Unit
        The unit of each variable as given.
    unit_named : dict of str to bool
        Whether a title or an option names it.
    """

    name: str
    lines: Sequence[int]
    days: DayArray
    values: dict[str, FloatArray]
    sources: dict[str, npt.NDArray[np.int8]] = field(default_factory=dict)
    cells: dict[str, Sequence[str]] = field(default_factory=dict)
    units: dict[str, Unit] = field(default_factory=dict)
    unit_named: dict[str, bool] = field(default_factory=dict)

    def given(self, variable: str, row: int) -> str:
        """Return one value as the file gives it, with its conversion where there was one."""
        value = self.values[variable][row]
        unit = self.units.get(variable, unit_of(variable, "metric"))
        si = unit_of(variable, "metric")
        if variable not in self.cells:
            return f"{value:g} {si}"
        text = quoted(self.cells[variable][row])
        return text if unit is si else f"{text} ({value:g} {si})"


def check_values(table: RawTable, faults: FaultList) -> None:
    """Note every value that can't be true, with its line and day."""
    with np.errstate(invalid="ignore"):
        for variable, values in table.values.items():
            low, high = PLAUSIBLE[variable]
            for row in np.flatnonzero((values < low) | (values > high)).tolist():
                if variable == "rain" and values[row] < 0:
                    problem = f"rain {table.given('rain', row)} is below zero"
                else:
                    unit = unit_of(variable, "metric")
                    problem = (
                        f"{variable} {table.given(variable, row)} is outside "
                        f"{low:g} to {high:g} {unit}"
                    )
                faults.add(
                    f"impossible {variable}",
                    problem,
                    "Correct it, or leave the cell empty if nobody knows",
                    line=table.lines[row],
                    day=table.days[row],
                )
        _check_order(table, faults)


def _check_order(table: RawTable, faults: FaultList) -> None:
    tmin, tmax = table.values["tmin"], table.values["tmax"]
    for row in np.flatnonzero(tmin > tmax).tolist():
        faults.add(
            "tmin above tmax",
            f"tmin {table.given('tmin', row)} is above tmax {table.given('tmax', row)}",
            "Check for swapped columns or a missing minus sign",
            line=table.lines[row],
            day=table.days[row],
        )
    if "tmean" in table.values:
        tmean = table.values["tmean"]
        out = (tmean > tmax + MEAN_OUTSIDE) | (tmean < tmin - MEAN_OUTSIDE)
        for row in np.flatnonzero(out & (tmin <= tmax)).tolist():
            faults.add(
                "tmean outside tmin to tmax",
                f"tmean {table.given('tmean', row)} lies far outside tmin "
                f"{table.given('tmin', row)} to tmax {table.given('tmax', row)}",
                "Correct it, or leave out tmean: the mean of the two is then used",
                line=table.lines[row],
                day=table.days[row],
            )


def check_repeats(table: RawTable, faults: FaultList) -> int:
    """Note days told twice with different values; return how many rows merely repeat others."""
    dated = np.flatnonzero(~np.isnat(table.days))
    days = table.days[dated]
    unique, first, inverse = np.unique(days, return_index=True, return_inverse=True)
    repeats = len(days) - len(unique)
    if not repeats:
        return 0
    if len(days) >= _FEWEST_FOR_HOURLY and len(unique) <= len(days) / 12:
        faults.add(
            "several rows a day",
            f"{len(days)} rows tell only {len(unique)} days: this is hourly weather",
            "Download daily values instead",
        )
        return 0
    earlier = dated[first[inverse]]
    for row, before in zip(dated.tolist(), earlier.tolist(), strict=True):
        if row == before:
            continue
        different = [
            name
            for name, values in table.values.items()
            if np.isfinite(values[row])
            and np.isfinite(values[before])
            and values[row] != values[before]
        ]
        if different:
            told = " and ".join(
                f"{name} {table.given(name, before)} and {table.given(name, row)}"
                for name in different
            )
            faults.add(
                "day told twice",
                f"the day stands on line {table.lines[before]} too, with {told}",
                "Keep the line that is right and delete the other",
                line=table.lines[row],
                day=table.days[row],
            )
    return repeats


def assemble(table: RawTable, notes: Sequence[str], attribution: str = "") -> DailyWeather:
    """Return the rows as an unbroken run of days; days without a row are missing."""
    start = table.days.min()
    at = (table.days - start).astype(np.int64)
    length = int(at.max()) + 1
    values: dict[str, FloatArray] = {}
    sources: dict[str, npt.NDArray[np.int8]] = {}
    for name in VARIABLES:
        column = np.full(length, np.nan)
        source = np.zeros(length, dtype=np.int8)
        if name in table.values:
            known = np.isfinite(table.values[name])
            column[at[known]] = table.values[name][known]
            codes = table.sources.get(name)
            source[at[known]] = Source.OBSERVED if codes is None else codes[known]
        values[name], sources[name] = column, source
    derive_mean(values, sources)
    return DailyWeather(
        start=start.item(),
        values=values,
        sources=sources,
        origin=table.name,
        attribution=attribution,
        notes=tuple(notes),
    )


def derive_mean(
    values: Mapping[str, FloatArray], sources: Mapping[str, npt.NDArray[np.int8]]
) -> None:
    """Fill a missing mean temperature, in place, with the middle of lowest and highest."""
    middle = (values["tmin"] + values["tmax"]) / 2.0
    derived = np.isnan(values["tmean"]) & np.isfinite(middle)
    values["tmean"][derived] = middle[derived]
    sources["tmean"][derived] = np.maximum(sources["tmin"], sources["tmax"])[derived]
