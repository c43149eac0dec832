"""What stands in a table for a value that nobody measured, or that is not the one meant.

Codes for missing values, the flags of NOAA's files, rain without the snow.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.tables.faults import FaultList, quoted
from fruitcast.weather import ghcn
from fruitcast.weather.cells import parse_numbers
from fruitcast.weather.layout import Layout, is_new_snow, is_of_a_day, is_rain_alone, rivals
from fruitcast.weather.table import RawTable
from fruitcast.weather.units import Unit, to_si, unit_of

_NO_WHOLE_DAY = ("H", "I")
"""What NOAA's Global Summary of the Day puts beside a zero that nobody measured, from memory: the
day's reports leave out rain that was seen, or there were none."""

_RIDDLES = (777.0, 888.0)

_NINES = (99.0, 99.9)
"""What else stands for a missing value where it is beyond all others, besides 9.99 inches."""

_ENOUGH = 5
"""Values from which it is told how many decimals a column has."""

_ROUNDING = 0.6
"""How far two columns of one value may differ where each is rounded in its own unit. [degC, mm]"""

_SNOW_BELOW = 2.0
"""Lowest temperature of a day at and below which some of what falls may be snow. Judgement.
[degC]"""


def take_codes(table: RawTable, faults: FaultList) -> int:
    """Take as missing, and count, what stands for it in the column's own unit.

    99.99 does so in inches, and where nothing else is given to the hundredth; 999 where it is no
    day's rain. Where they could be true, and for 777 and 888, which have no one meaning, they are
    faults, and so are other nines beyond all the rest.
    """
    found = 0
    for name, values in table.values.items():
        unit = table.units[name]
        nines, high = values == 99.99, values == 999.0
        rest = values[np.isfinite(values) & ~nines] * 10.0
        codes, riddles = np.zeros(len(values), dtype=bool), np.zeros(len(values), dtype=bool)
        if unit is Unit.INCH or (np.abs(rest - np.round(rest)) < 1e-6).all():
            codes |= nines
        else:
            riddles |= nines
        codes |= _other_decimals(values, table.cells[name])
        if unit in (Unit.TENTHS_MM, Unit.HUNDREDTHS_INCH):
            riddles |= high
        else:
            codes |= high
        if name == "rain":
            riddles |= np.isin(values, _RIDDLES)
        if name != "rh":
            riddles |= _beyond_all(values, unit) & ~codes
        for row in np.flatnonzero(riddles).tolist():
            faults.add(
                "codes",
                f"{name} {quoted(table.cells[name][row])} looks like a code, for a day without a "
                "reading or a trace of rain",
                "Leave the cell empty if nobody knows, or add --as-it-stands if it was so",
                line=table.lines[row],
                day=table.days[row],
            )
        found += int(codes.sum())
        values[codes] = np.nan
    return found


def _beyond_all(values: FloatArray, unit: Unit) -> BoolArray:
    """Return where nothing but nines stand, with no other value near below them."""
    found = np.zeros(len(values), dtype=bool)
    for nines in (*_NINES, 9.99) if unit is Unit.INCH else _NINES:
        rest = values[np.isfinite(values) & (values != nines)]
        if not len(rest) or rest.max() < 0.95 * nines:
            found |= values == nines
    return found


def _other_decimals(values: FloatArray, cells: Sequence[str]) -> BoolArray:
    """Return where nines stand with more or fewer decimals than all other values have."""
    nines = np.isin(values, _NINES)
    if not nines.any():
        return nines
    decimals = np.array([len(re.split("[.,]", cell.strip() + ".")[1]) for cell in cells])
    others = decimals[np.isfinite(values) & ~nines]
    if len(others) < _ENOUGH or (others != others[0]).any():
        return np.zeros(len(values), dtype=bool)
    return np.asarray(nines & (decimals != others[0]))


def choose_between_rivals(
    table: RawTable,
    layout: Layout,
    rows: Sequence[Sequence[str]],
    decimal_comma: bool,
    faults: FaultList,
) -> None:
    """Hold what a second column tells of a variable against the one in use.

    Of rain and of all precipitation the latter is taken, if it is nowhere less and on days too
    warm for snow hardly more. Columns that differ otherwise are a fault.
    """
    with np.errstate(invalid="ignore"):
        warm = table.values["tmin"] > _SNOW_BELOW
    for role in ("tmin", "tmax", "rain"):
        used = layout.columns[role]
        for rival in rivals(layout.titles, role, used):
            if is_of_a_day(used.title, rival.title):
                continue
            cells = [row[rival.index] if rival.index < len(row) else "" for row in rows]
            read = parse_numbers(cells, decimal_comma=decimal_comma, traces=role == "rain")
            unit = rival.unit or (table.units[role] if used.unit is None else None)
            other = to_si(read.values, unit or unit_of(role, "metric"))
            mine = table.values[role]
            with np.errstate(invalid="ignore"):
                differ = np.abs(other - mine) > _ROUNDING
                less = (other < mine - _ROUNDING).any()
                more = (other > mine + _ROUNDING).any()
                wet = warm & (mine > 0.0)
            if not differ.any():
                continue
            alone, other_alone = is_rain_alone(used.title), is_rain_alone(rival.title)
            if role == "rain" and not alone and other_alone and not more:
                continue
            plain = not wet.any() or float(differ[wet].mean()) < 0.1
            if role == "rain" and alone and not other_alone and not less and plain:
                table.values[role] = np.where(np.isfinite(other), other, np.nan)
                table.cells[role] = cells
                table.units[role] = unit or unit_of(role, "metric")
                table.unit_named[role] = unit is not None
                layout.columns[role] = used = rival
                continue
            row = int(np.argmax(differ))
            faults.add(
                "columns differ",
                f"{quoted(used.title)} and {quoted(rival.title)} tell different values on "
                f"{int(differ.sum())} days",
                "Keep the one that is rain and melted snow"
                if role == "rain"
                else "Keep the one of the air outdoors",
                line=table.lines[row],
                day=table.days[row],
            )


def leave_out_snow(
    table: RawTable, layout: Layout, rows: Sequence[Sequence[str]], faults: FaultList
) -> None:
    """Take rain beside a column of snow as missing where snow fell."""
    title = layout.columns["rain"].title
    beside = [at for at, other in enumerate(layout.titles) if is_new_snow(other)]
    if not beside or not is_rain_alone(title):
        return
    snow = parse_numbers([row[beside[0]] if beside[0] < len(row) else "" for row in rows])
    with np.errstate(invalid="ignore"):
        fell = (snow.values > 0.0) & np.isfinite(table.values["rain"])
    if fell.any():
        table.values["rain"][fell] = np.nan
        faults.notes.append(
            f"{title} stands beside {layout.titles[beside[0]].strip()} and may leave it out, so "
            f"that it is taken as missing on the {int(fell.sum())} days with snow; a column of all "
            "precipitation would have them."
        )


def leave_out_cold_days(table: RawTable, layout: Layout, faults: FaultList) -> None:
    """Take `rain_sum`, which leaves snow out, as missing where it can have snowed."""
    if not layout.columns["rain"].title.strip('"').lower().startswith("rain_sum"):
        return
    with np.errstate(invalid="ignore"):
        cold = ~(table.values["tmin"] > _SNOW_BELOW) & np.isfinite(table.values["rain"])
    if cold.any():
        table.values["rain"][cold] = np.nan
        faults.notes.append(
            f"rain_sum leaves out snow, so that it is taken as missing on {int(cold.sum())} days "
            "that were cold enough for it; download precipitation_sum to have them."
        )


def leave_out_shares(table: RawTable, layout: Layout, faults: FaultList) -> None:
    """Leave out humidity that is told in shares of one, where percent are meant."""
    rh = table.values.get("rh")
    if rh is None or not np.nanmax(rh, initial=0.0) or np.nanmax(rh) > 1.0:
        return
    rh[:] = np.nan
    faults.notes.append(
        f"{layout.columns['rh'].title} never passes 1: it is left out, as it may be a share where "
        "percent are meant."
    )


def drop_doubtful(table: RawTable, columns: dict[str, list[str]], faults: FaultList) -> None:
    """Take values as missing that NOAA's own flags mark as failed, or as not measured."""
    failed = unmeasured = 0
    for name, values in table.values.items():
        flags = [
            (first.strip(), rest.partition(",")[0].strip(), bool(comma))
            for first, comma, rest in (
                cell.partition(",") for cell in columns.get(f"{name}_attributes", ())
            )
        ]
        if not flags:
            continue
        doubtful = np.array([bool(quality) for _, quality, _ in flags]) & np.isfinite(values)
        presumed = np.array(
            [first in (ghcn.NOT_MEASURED if daily else _NO_WHOLE_DAY) for first, _, daily in flags]
        )
        presumed &= np.isfinite(values) & ~doubtful & (name == "rain")
        failed += int(doubtful.sum())
        unmeasured += int(presumed.sum())
        values[doubtful | presumed] = np.nan
    faults.notes += ghcn.notes_on_flags(failed, unmeasured)
