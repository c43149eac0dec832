"""Reading daily weather from a file in any of the usual shapes.

One reader serves them all: it looks for the line of titles, takes from them what each column
means, and reads the rows below. So it reads our own `date,tmin,tmax,rain`, NOAA's daily
summaries, Meteostat's and Open-Meteo's downloads, and tables with year, month and day in columns
of their own. GHCN-Daily's two layouts with one element a line are read by `ghcn`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from fruitcast.errors import Fault, FaultsError
from fruitcast.numbers import default_numbers
from fruitcast.tables.faults import FaultList, Question, quoted
from fruitcast.weather import ghcn
from fruitcast.weather.cells import (
    DayArray,
    days_from_day_of_year,
    days_from_parts,
    is_total,
    parse_dates,
    parse_numbers,
    reason_unreadable,
)
from fruitcast.weather.codes import (
    choose_between_rivals,
    drop_doubtful,
    leave_out_cold_days,
    leave_out_shares,
    leave_out_snow,
    take_codes,
)
from fruitcast.weather.daily import VARIABLES, DailyWeather, parse_sources
from fruitcast.weather.judge import questions
from fruitcast.weather.layout import (
    NEEDED,
    Layout,
    find_layout,
    has_decimal_commas,
    missing_roles,
    nearest_title,
    read_lines,
    split_rows,
    stand_twice,
    take_unit_row,
)
from fruitcast.weather.table import (
    RawTable,
    assemble,
    check_one_station,
    check_repeats,
    check_values,
)
from fruitcast.weather.units import (
    SYSTEMS,
    TEMPERATURES,
    TITLES,
    System,
    Unit,
    guess_system,
    to_si,
    unit_of,
)

AS_IT_STANDS = "If it is right as it stands, add --as-it-stands"

_FOREIGN = (Unit.FAHRENHEIT, Unit.INCH, Unit.HUNDREDTHS_INCH)

MOST_LINES = 200_000
"""Lines of a table read at most."""

_ATTRIBUTION = "# attribution:"


def read_weather_file(
    path: Path,
    *,
    units: System | None = None,
    as_it_stands: bool = False,
    known: DailyWeather | None = None,
    latitude: float | None = None,
) -> DailyWeather:
    """Return the daily weather in a file, on an unbroken run of days.

    Missing values stay missing: rain that nobody measured is NaN, never zero. Mean temperature is
    the middle of lowest and highest where the file has none. Notes tell all that was decided on
    the way. Raises FaultsError with every fault of the file, each with line, day, value and
    remedy; InputError if the file is absent or can't be read.

    Units are C and mm ('metric'), F and inches ('us'), or tenths of C and of mm ('tenths').
    Titles that name a unit win over this. Without either, metric is taken, except for NOAA's
    files: there the values decide, and a note tells how they were read.

    What could hardly be true is believed `as_it_stands`: a yard's own file has been asked about
    when it was taken in. Else running totals, other units than the titles', codes for missing
    values and the like are faults. The table is held against the yard's own past weather and
    latitude [degree, north positive], as far as they are `known`.
    """
    if units is not None and units not in SYSTEMS:
        raise ValueError(f"units must be one of {SYSTEMS}, not {units!r}")
    faults = FaultList(path.name)
    lines = read_lines(path, faults)
    table = ghcn.read(lines, faults)
    if table is None:
        table = _read_table(lines, units, as_it_stands, faults)
    named = table.unit_named.get("rain", True)
    if not faults.has("units"):
        check_values(table, faults)
    repeats = check_repeats(table, faults)
    faults.raise_any()
    if repeats:
        faults.notes.append(
            f"{repeats} times a day stands on a second line, with nothing that differs."
        )
    attribution = next(
        (line[len(_ATTRIBUTION) :].strip() for line in lines[:20] if line.startswith(_ATTRIBUTION)),
        "",
    )
    weather = assemble(table, [f"{path.name}: {note}" for note in faults.notes], attribution)
    if not as_it_stands:
        limits = default_numbers().doubt.weather
        asked = questions(weather, limits, known=known, latitude=latitude, rain_unit_named=named)
        ask(weather, asked)
    return weather


def ask(weather: DailyWeather, asked: Sequence[Question]) -> None:
    """Raise what there is to ask about a table, with the option that answers it.

    Raises FaultsError if there is anything.
    """
    if asked:
        raise FaultsError(
            [Fault(weather.origin, each.problem, f"{each.cause}. {AS_IT_STANDS}") for each in asked]
        )


def _read_table(
    lines: Sequence[str], units: System | None, as_it_stands: bool, faults: FaultList
) -> RawTable:
    if len(lines) > MOST_LINES:
        faults.stop(
            "too long",
            f"{len(lines)} lines are more than the days of five centuries",
            "Keep the rows of one place, one a day",
        )
    layout = _layout(lines, faults)
    numbers, rows = split_rows(lines, layout)
    if with_units := take_unit_row(layout, rows):
        layout = with_units
        numbers, rows = numbers[1:], rows[1:]
    layout = _understood(layout, faults)
    numbers, rows = _without_totals(layout, numbers, rows, faults)
    if not rows:
        faults.stop(
            "no rows",
            "there are titles but no rows below them",
            "Add one line for each day",
            layout.header + 1,
        )
    numbers, rows = _rows_of_right_length(layout, numbers, rows, faults)
    columns = {role: [row[column.index] for row in rows] for role, column in layout.columns.items()}
    named = (cell.strip() for cell in columns.get("station", ()))
    check_one_station((cell for cell in named if cell), faults)
    days = _days(columns, layout, numbers, faults)
    table = RawTable(faults.file, numbers, days, {})
    _read_values(table, layout, rows, units, as_it_stands, faults)
    for variable, codes in parse_sources(columns, numbers, faults).items():
        table.sources[variable] = codes
    drop_doubtful(table, columns, faults)
    if not len(faults) and not any(np.isfinite(v).any() for v in table.values.values()):
        faults.add("no values", "no row has a value", "Fill in what was measured")
    return table


def _layout(lines: Sequence[str], faults: FaultList) -> Layout:
    layout = find_layout(lines)
    if layout is None:
        number, line = next((n, text) for n, text in enumerate(lines, 1) if text.strip())
        faults.stop(
            "no titles",
            "no line names the columns date, tmin, tmax and rain; the first line is "
            f"{quoted(line)}",
            "Put a line of titles above the values, such as date,tmin,tmax,rain",
            number,
        )
    for role in missing_roles(layout.columns):
        near = nearest_title(role, layout.titles, layout.columns)
        hint = f"the nearest title is {quoted(near)}" if near else "no title is like it"
        faults.add(
            "missing column",
            f"there is no column '{role}'; {hint}",
            f"Name the column '{role}', or download the weather again with it",
            line=layout.header + 1,
        )
    for title in stand_twice(layout.titles, layout.columns):
        faults.add(
            "column twice",
            f"the column {quoted(title)} stands twice",
            "Keep the one that is meant",
            line=layout.header + 1,
        )
    faults.raise_any()
    return layout


def _understood(layout: Layout, faults: FaultList) -> Layout:
    """Return the layout with the columns whose units are understood.

    Raises FaultsError if that leaves out one that is needed.
    """
    puzzling = {role: column for role, column in layout.columns.items() if column.puzzle}
    for role, column in puzzling.items():
        if role in NEEDED:
            faults.add(
                "units",
                f"{column.title} is in {quoted(column.puzzle)}, which is no unit of a day's "
                f"{'rain' if role == 'rain' else 'temperature'} that is known here",
                "Save it in mm or inches, as rain_mm or rain_in"
                if role == "rain"
                else f"Save it in C or F, as {role}_c or {role}_f",
                line=layout.header + 1,
            )
        else:
            faults.notes.append(
                f"{column.title} is left out: {quoted(column.puzzle)} is no unit of it that is "
                "known here."
            )
    faults.raise_any()
    columns = {role: column for role, column in layout.columns.items() if role not in puzzling}
    return replace(layout, columns=columns)


def _without_totals(
    layout: Layout, numbers: Sequence[int], rows: Sequence[list[str]], faults: FaultList
) -> tuple[list[int], list[list[str]]]:
    """Return the rows of days: what sums them up, as spreadsheets have it, is told and left out."""
    at = (layout.columns.get("date") or layout.columns["year"]).index
    labels = [row[at] if at < len(row) else "" for row in rows]
    totals = set()
    for place, label in enumerate(labels):
        if label[:1].isdigit():  # a day, as almost all are
            continue
        if not label.strip():
            label = next((cell for cell in rows[place] if cell.strip()), "")
        if is_total(label):
            totals.add(place)
            faults.notes.append(
                f"line {numbers[place]}, {quoted(label)}, is taken as a row of totals and left out."
            )
    if not totals:
        return list(numbers), list(rows)
    kept = [place for place in range(len(rows)) if place not in totals]
    return [numbers[place] for place in kept], [rows[place] for place in kept]


def _rows_of_right_length(
    layout: Layout, numbers: Sequence[int], rows: Sequence[list[str]], faults: FaultList
) -> tuple[list[int], list[list[str]]]:
    """Return the rows whose cells can be told apart, with a fault for each of the others.

    Raises FaultsError if most rows are of the wrong length: then nothing else said of them would be
    true.
    """
    width = len(layout.titles)
    last = max(column.index for column in layout.columns.values())
    if set(map(len, rows)) == {width}:
        return list(numbers), list(rows)
    good_numbers, good_rows = [], []
    for row, number in zip(rows, numbers, strict=True):
        if len(row) > width and any(cell.strip() for cell in row[width:]):
            faults.add(
                "too many cells",
                f"{len(row)} cells where the titles are {width}: {quoted(' '.join(row))}",
                "Decimal commas need another separator than the comma; else remove what is too "
                "much",
                line=number,
            )
            continue
        if len(row) < width and layout.delimiter is None:
            faults.add(
                "too few cells",
                f"{len(row)} values where the titles are {width}: {quoted(' '.join(row))}",
                "Write NA for a value that is missing",
                line=number,
            )
            continue
        if len(row) <= last:
            row.extend([""] * (last + 1 - len(row)))
        good_numbers.append(number)
        good_rows.append(row)
    if len(good_rows) < len(rows) / 2:
        raise faults.error()
    return good_numbers, good_rows


def _days(
    columns: dict[str, list[str]], layout: Layout, numbers: Sequence[int], faults: FaultList
) -> DayArray:
    if "date" in columns:
        return parse_dates(columns["date"], numbers, faults, layout.columns["date"].title)
    parts = [
        parse_numbers(columns[p]).values for p in ("year", "month", "day", "doy") if p in columns
    ]
    if len(parts) == 3:
        return days_from_parts(parts[0], parts[1], parts[2], numbers, faults)
    return days_from_day_of_year(parts[0], parts[1], numbers, faults)


def _read_values(
    table: RawTable,
    layout: Layout,
    rows: Sequence[list[str]],
    units: System | None,
    as_it_stands: bool,
    faults: FaultList,
) -> None:
    """Read the numbers of every variable into the table and turn them into C, mm and %."""
    present = [name for name in VARIABLES if name in layout.columns]
    columns = {name: [row[layout.columns[name].index] for row in rows] for name in present}
    comma = layout.delimiter is not None and has_decimal_commas([columns[n] for n in present])
    sentinels = 0
    for name in present:
        read = parse_numbers(columns[name], decimal_comma=comma, traces=name == "rain")
        for row in read.unreadable:
            faults.add(
                "unreadable numbers",
                f"{layout.columns[name].title} {quoted(columns[name][row])} is not a number"
                f"{reason_unreadable(columns[name][row])}",
                "Correct it, or leave the cell empty if nobody knows",
                line=table.lines[row],
                day=table.days[row],
            )
        sentinels += read.sentinels
        table.values[name] = read.values
        table.cells[name] = columns[name]
    _choose_units(table, layout, units, faults)
    if not as_it_stands:
        sentinels += take_codes(table, faults)
    if sentinels:
        faults.notes.append(f"{sentinels} values like -9999 are taken as missing.")
    for name in present:
        table.values[name] = to_si(table.values[name], table.units[name])
    if not as_it_stands:
        choose_between_rivals(table, layout, rows, comma, faults)
        leave_out_snow(table, layout, rows, faults)
    leave_out_cold_days(table, layout, faults)
    if not as_it_stands:
        leave_out_shares(table, layout, faults)


def _choose_units(table: RawTable, layout: Layout, units: System | None, faults: FaultList) -> None:
    """Decide the unit of each variable: by its title, by option, or by the values."""
    unnamed = []
    for name in table.values:
        unit = layout.columns[name].unit
        if unit is None:
            unnamed.append(name)
        table.unit_named[name] = unit is not None or units is not None
        table.units[name] = unit or unit_of(name, units or "metric")
    if units is not None:
        return
    foreign = [n for n in table.values if table.units[n] in _FOREIGN]
    if foreign and (open_ := [name for name in unnamed if name != "rh"]):
        faults.add(
            "units",
            f"{layout.columns[foreign[0]].title} is in {table.units[foreign[0]]}, but "
            f"{' and '.join(layout.columns[name].title for name in open_)} "
            f"{'names' if len(open_) == 1 else 'name'} no unit",
            "Put every unit into its title, such as rain_in or rain_mm",
            line=layout.header + 1,
        )
        return
    if not any(name in TEMPERATURES for name in unnamed):
        return
    nothing = np.array([])
    guess = guess_system(
        *(table.values[n] if n in unnamed else nothing for n in ("tmin", "tmax", "rain"))
    )
    if any(title.strip(' "').upper() == "FRSHTT" for title in layout.titles):
        # NOAA's Global Summary of the Day, always in F and inches.
        for name in unnamed:
            table.units[name] = unit_of(name, "us")
        faults.notes.append("read as F and inches, as NOAA's Global Summary of the Day has them.")
        return
    noaa = "station" in layout.columns and layout.columns["rain"].title.upper() == "PRCP"
    if noaa and guess.system is not None:
        for name in unnamed:
            table.units[name] = unit_of(name, guess.system)
        faults.notes.append(
            f"read as {unit_of('tmax', guess.system)} and {unit_of('rain', guess.system)}, because "
            f"{guess.evidence}; give the units to have it otherwise."
        )
    elif noaa or guess.not_celsius:
        looks = "they can't be told apart"
        if guess.system is not None:
            looks = f"they look like {unit_of('tmax', guess.system)}"
        faults.add(
            "units",
            f"the titles name no units, and {guess.evidence}: {looks}",
            _name_the_units(guess.system),
            line=layout.header + 1,
        )


def _name_the_units(likely: System | None) -> str:
    """Return what to do about a table whose units nobody names."""
    if likely == "tenths":
        return (
            f"Put the units into the titles ({TITLES[likely]}), or say them to "
            "'fruitcast weather import' with --units tenths"
        )
    if likely is not None:
        return f"Say --units {likely}, or put the units into the titles ({TITLES[likely]})"
    each = ", or ".join(TITLES[system] for system in SYSTEMS)
    return f"Say --units us or --units metric, or put the units into the titles ({each})"
