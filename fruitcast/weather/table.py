"""A table of daily weather: checked, its gaps closed, put together with another, written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.atomic import write_atomically
from fruitcast.tables.faults import FaultList, quoted
from fruitcast.weather.cells import DayArray
from fruitcast.weather.daily import VARIABLES, DailyWeather, Source
from fruitcast.weather.units import TEMPERATURES, Unit, unit_of
from fruitcast.words import first_of

# A weather table as found in a file, row by row, before days are put in order.

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
    """Rows in the order of the file, values already in C, mm and %."""

    name: str
    lines: Sequence[int]  # line number of each row, counted from 1
    days: DayArray  # (row,): the day of each row; NaT where it could not be read
    values: dict[str, FloatArray]  # for each variable present; NaN where missing
    # `Source` codes where the file tells them
    sources: dict[str, npt.NDArray[np.int8]] = field(default_factory=dict)
    # The values as given, for messages
    cells: dict[str, Sequence[str]] = field(default_factory=dict)
    units: dict[str, Unit] = field(default_factory=dict)  # the unit of each variable as given
    # Whether a title or an option names it
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
        if (scale := _other_scale(table)) is not None:
            faults.add(
                "another scale",
                f"most days have temperatures that no place has in C. They look like {scale}",
                "Put the unit of the values into the titles of their columns",
            )
            return
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


def _other_scale(table: RawTable) -> str | None:
    """Return what temperatures are in, where too many are impossible in C for single slips."""
    low, high = PLAUSIBLE["tmax"]
    highest, celsius_unit = table.values["tmax"], unit_of("tmax", "metric")
    many = (highest > high).sum() > max(np.isfinite(highest).sum() / 2, 3)
    if not many or table.units.get("tmax", celsius_unit) is not celsius_unit:
        return None
    both = np.concatenate([table.values["tmin"], highest])
    for scale, celsius in (("Fahrenheit", (both - 32) / 1.8), ("tenths of C", both / 10)):
        if np.nanmin(celsius) >= low and np.nanmax(celsius) <= high:
            return scale
    return None


def check_one_station(named: Iterable[str], faults: FaultList) -> None:
    """Note when rows name more than one station."""
    stations = list(dict.fromkeys(named))
    if len(stations) > 1:
        faults.add(
            "several stations",
            f"the file holds {len(stations)} stations: {', '.join(stations[:5])}",
            "Keep the rows of one station",
        )


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


# Closing gaps in daily weather: short ones from their neighbours, others from other places.
#
# Whatever is put in is flagged `Source.FILLED` and told in the notes. Rain is never made up from
# its neighbours: a day without a reading may have been the wettest of the month.

LONGEST_GAP = 3
"""Days of temperature that may be interpolated; over more, weather changes. Judgement. [day]"""


def fill_gaps(weather: DailyWeather) -> DailyWeather:
    """Return the weather with gaps of temperature of up to three days interpolated.

    Only gaps between two known days are closed. To keep hindsight out, cut the table at today
    first (`known.as_known_on`).
    """
    values, sources = weather.copies()
    touched = np.zeros(weather.days, dtype=bool)
    for name in ("tmin", "tmax"):
        touched |= _interpolate(values[name], sources[name])
    crossed = touched & (values["tmin"] > values["tmax"])
    for name, other in (("tmin", "tmax"), ("tmax", "tmin")):
        bent = crossed & (sources[name] == Source.FILLED)
        values[name][bent] = values[other][bent]
    derive_mean(values, sources)
    touched |= _interpolate(values["tmean"], sources["tmean"])
    if not touched.any():
        return weather
    note = (
        f"Temperature was interpolated on {count_days(int(touched.sum()))} in gaps of up to "
        f"{LONGEST_GAP} days: {list_days(weather, touched)}."
    )
    return replace(weather, values=values, sources=sources, notes=(*weather.notes, note))


def merge(first: DailyWeather, others: Sequence[DailyWeather]) -> DailyWeather:
    """Return the first table with its gaps filled from others, in their order.

    Lowest and highest temperature of a day are taken from one place together where both are
    wanting or where they would cross. A forecast stays a forecast; all else taken over is
    flagged as filled.
    """
    merged = first
    for other in others:
        merged = _fill_from(merged, other)
    return merged


def _fill_from(first: DailyWeather, other: DailyWeather) -> DailyWeather:
    first, other = _of_the_same_days(first, other)
    values, sources = first.copies()
    taken = {}
    for name in VARIABLES:
        gap = np.isnan(values[name]) & np.isfinite(other.values[name])
        values[name][gap] = other.values[name][gap]
        sources[name][gap] = _as_filled(other.sources[name][gap])
        taken[name] = gap
    crossed = values["tmin"] > values["tmax"]
    for name in TEMPERATURES:
        values[name][crossed] = other.values[name][crossed]
        sources[name][crossed] = _as_filled(other.sources[name][crossed])
    temperature, rain = (taken["tmin"] | taken["tmax"]), taken["rain"]
    if not temperature.any() and not rain.any():
        return first
    note = (
        f"Gaps were filled from {other.origin or 'another place'}: temperature on "
        f"{count_days(int(temperature.sum()))}, rain on {count_days(int(rain.sum()))}."
    )
    attribution = _credits(first, other)
    notes = (*first.notes, *other.notes, note)
    return replace(first, values=values, sources=sources, attribution=attribution, notes=notes)


def _credits(first: DailyWeather, other: DailyWeather) -> str:
    """Return the lines that the licences of both ask for, each once."""
    return "; ".join(dict.fromkeys(filter(None, (first.attribution, other.attribution))))


def _of_the_same_days(
    first: DailyWeather, other: DailyWeather
) -> tuple[DailyWeather, DailyWeather]:
    """Return two tables of which each reaches over the days of both."""
    start, end = min(first.start, other.start), max(first.end, other.end)
    return stretched(first, start, end), stretched(other, start, end)


def stretched(weather: DailyWeather, start: date, end: date) -> DailyWeather:
    """Return the table made longer, with missing days, so that it reaches from start to end."""
    before = max((weather.start - start).days, 0)
    after = max((end - weather.end).days, 0)
    if not before and not after:
        return weather
    return replace(
        weather,
        start=weather.start - timedelta(days=before),
        values={
            name: np.pad(column, (before, after), constant_values=np.nan)
            for name, column in weather.values.items()
        },
        sources={
            name: np.pad(column, (before, after), constant_values=Source.MISSING)
            for name, column in weather.sources.items()
        },
    )


def count_days(number: int) -> str:
    """Return a number of days in words."""
    return f"{number} day" if number == 1 else f"{number} days"


def list_days(weather: DailyWeather, chosen: BoolArray, most: int = 6) -> str:
    """Return the first few of the chosen days, and how many more there are."""
    days = [weather.day(row).isoformat() for row in np.flatnonzero(chosen).tolist()]
    return first_of(days, most)


def _as_filled(codes: npt.NDArray[np.int8]) -> npt.NDArray[np.int8]:
    return np.where(codes == Source.OBSERVED, Source.FILLED, codes).astype(np.int8)


def _interpolate(column: FloatArray, source: npt.NDArray[np.int8]) -> BoolArray:
    """Close the short gaps of one column in place; return which days were filled."""
    gap = np.isnan(column)
    known = np.flatnonzero(~gap)
    if not gap.any() or len(known) < 2:
        return np.zeros_like(gap)
    rows = np.arange(len(column))
    after = np.searchsorted(known, rows)
    inside = gap & (after > 0) & (after < len(known))
    length = known[np.minimum(after, len(known) - 1)] - known[np.maximum(after - 1, 0)] - 1
    short = inside & (length <= LONGEST_GAP)
    column[short] = np.round(np.interp(rows[short], known, column[known]), 2)
    source[short] = Source.FILLED
    return short


# Two tables of one site put together: what was there, and what came in.

_COMPARED = ("tmin", "tmax", "rain", "rh")


def contradictions(old: DailyWeather, new: DailyWeather) -> BoolArray:
    """Return the days, by the rows of `new`, which both tables observed, and not the same."""
    old, there = _of_the_same_days(old, new)
    found = np.zeros(there.days, dtype=bool)
    for name in _COMPARED:
        both = (old.sources[name] == Source.OBSERVED) & (there.sources[name] == Source.OBSERVED)
        found |= both & ~np.isclose(old.values[name], there.values[name], atol=1e-6, rtol=0.0)
    first = there.index(new.start)
    return found[first : first + new.days]


def combined(old: DailyWeather, new: DailyWeather) -> DailyWeather:
    """Return one table of the days of both; where both know a value, `new` has it.

    Values keep their sources, and a forecast never replaces what was observed. The temperatures
    of a day are taken together from the table that has both lowest and highest; where neither
    has, they are put together unless they would cross.
    """
    old, new = _of_the_same_days(old, new)
    whole_old, whole_new = (np.isfinite(t.tmin) & np.isfinite(t.tmax) for t in (old, new))
    low, high = (
        np.where(np.isfinite(new.values[name]), new.values[name], old.values[name])
        for name in ("tmin", "tmax")
    )
    crossed = ~whole_new & ~whole_old & (low > high)
    values, sources = {}, {}
    for name in VARIABLES:
        ahead = new.sources[name] == Source.FORECAST
        seen = (old.sources[name] != Source.FORECAST) & (old.sources[name] != Source.MISSING)
        take = np.isfinite(new.values[name])
        if name in TEMPERATURES:
            take = whole_new | (take & ~whole_old) | crossed
        take &= ~(ahead & seen)
        values[name] = np.where(take, new.values[name], old.values[name])
        sources[name] = np.where(take, new.sources[name], old.sources[name]).astype(np.int8)
    derive_mean(values, sources)
    attribution, notes = _credits(new, old), (*old.notes, *new.notes)
    return replace(old, values=values, sources=sources, attribution=attribution, notes=notes)


# Writing daily weather as our own CSV: date,tmin,tmax,rain in C and mm, and more where known.

_WORDS = {
    Source.MISSING: "",
    Source.OBSERVED: "observed",
    Source.FILLED: "filled",
    Source.FORECAST: "forecast",
}


def write_weather_csv(weather: DailyWeather, path: Path) -> None:
    """Write a weather table so that `read_weather_file` gives the same table back.

    The mean temperature is written only where it is more than the middle of lowest and highest,
    humidity only where there is any, and the sources only when not everything is observed. The line
    that the data's licence asks for goes to the top. The file is written whole or not at all.
    Raises OutputError if the file can't be written.
    """
    write_atomically(path, weather_csv(weather).encode())


def weather_csv(weather: DailyWeather) -> str:
    """Return a weather table as the text of our own CSV."""
    names = ["tmin", "tmax", "rain"]
    if not _mean_is_middle(weather):
        names.append("tmean")
    if np.isfinite(weather.rh).any():
        names.append("rh")
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    columns = {"date": days.astype(str).tolist()}
    for name in names:
        columns[name] = ["" if v != v else repr(v) for v in weather.values[name].tolist()]
    columns |= _source_columns(weather, names)
    lines = [",".join(columns)]
    lines += [",".join(cells) for cells in zip(*columns.values(), strict=True)]
    if weather.attribution:
        lines.insert(0, f"# attribution: {' '.join(weather.attribution.split())}")
    return "\n".join(lines) + "\n"


def _mean_is_middle(weather: DailyWeather) -> bool:
    """Return whether reading lowest and highest alone gives the mean back, value and source."""
    values = {**weather.values, "tmean": np.full(weather.days, np.nan)}
    sources = {**weather.sources, "tmean": np.zeros(weather.days, dtype=np.int8)}
    derive_mean(values, sources)
    return np.array_equal(values["tmean"], weather.tmean, equal_nan=True) and np.array_equal(
        sources["tmean"], weather.sources["tmean"]
    )


def _source_columns(weather: DailyWeather, names: list[str]) -> dict[str, list[str]]:
    """Return one column of sources where every row has but one, else one for each variable."""
    codes = np.stack([weather.sources[name] for name in names])
    highest = codes.max(axis=0)
    lowest = np.where(codes == Source.MISSING, highest, codes).min(axis=0)
    if np.array_equal(highest, lowest):
        if (highest <= Source.OBSERVED).all():
            return {}
        return {"source": [_WORDS[Source(code)] for code in highest.tolist()]}
    return {
        f"{name}_source": [_WORDS[Source(code)] for code in weather.sources[name].tolist()]
        for name in names
    }
