"""Small tables of the command line: numbers, weather, diary, sales, the year."""

from __future__ import annotations

from collections.abc import Sequence
from math import nan
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from fruitcast.outputs.listing import Column, Indented, Listing, Row, lines, table, title
from fruitcast.units import Units, format_rain, format_temperature, format_weight
from fruitcast.words import count_words, dated_words, day_words

if TYPE_CHECKING:
    from fruitcast.app.diary_tables import OutletTakings, PartOfPick, Sold, YearRow
    from fruitcast.app.recording import EntriesListed
    from fruitcast.app.weather_table import WeatherAnswer, WeatherDay
    from fruitcast.numbers import Number
    from fruitcast.progress import Step

MATTER_MOST = (
    "Plans hang most on the numbers that come first. Where your logs show another value over "
    "several flushes, write it under [numbers] in yard.toml, in the unit shown here, as in "
    '"natural.rain" = 25; plan again and look at what it changes. One at a time, and leave the '
    "others as they are. Picks in the diary already pull yield and days to the first pick your way."
)


def exactly(words: str) -> RenderableType:
    """Return a line that is never broken, to be copied."""
    return Text(words, no_wrap=True, overflow="ignore")


def steps_table(steps: Sequence[Step]) -> RenderableType:
    """Return what to do next: each command on a line of its own, with what it does below."""
    return Group(
        *(part for step in steps for part in (exactly(step.command), Indented(step.does, 4, "dim")))
    )


def numbers_table(numbers: Sequence[Number]) -> RenderableType:
    """Return every number with unit, label, range and source or reason."""
    first, others = list[Row](), list[Row]()
    for number in numbers:
        own = "The yard's own value. " if number.overridden else ""
        cells = (number.key, f"{number.value:g} {number.unit}".removesuffix(" unitless"))
        note = f"{own}{number.label}: {number.why}. From {number.low:g} to {number.high:g}."
        if number.find:
            first.append(Row(*cells, note=f"{note} Your own: {number.find}."))
        else:
            others.append(Row(*cells, note=note))
    columns = (Column("Number"), Column("Value"))
    return Group(
        Indented(MATTER_MOST, by=0), Listing(columns, first), Text(), Listing(columns, others)
    )


def taken_words(answer: WeatherAnswer) -> str:
    """Return how many days an import brought, the words that 'in FILE' follows on."""
    new, filled = answer.new_days or 0, answer.filled_days or 0
    words = f"{count_words(new, 'day')} {'is' if new == 1 else 'are'} new"
    if not filled:
        return words
    more = f"what {count_words(filled, 'day')} lacked is filled"
    return f"{words}, and {more}" if new else more.capitalize()


def weather_table(answer: WeatherAnswer, days: int) -> RenderableType:
    """Return where the weather comes from, what each year has, and the last days."""
    weather, units = answer.weather, answer.yard.units
    parts: list[RenderableType] = [
        Indented(
            f"{weather.origin or 'Weather'}: {weather.start} to {weather.end}. "
            + (
                "No plan can be made from it as it is: see above."
                if answer.obstacle
                else f"{count_words(len(answer.usable_years), 'past year')} can stand for the "
                f"weeks from {answer.today} on."
            ),
            by=0,
        )
    ]
    if weather.attribution:
        parts.append(Indented(weather.attribution, by=0))
    years = table(
        answer.years(),
        (Column("Year"), lambda year: str(year.year)),
        (Column("Days", "right"), lambda year: str(year.days)),
        (Column("Rain", "right"), lambda year: format_rain(year.rain_mm, units)),
        (
            Column("No rain known", "right", aside="no rain known on {} days"),
            lambda year: str(year.missing_rain_days or ""),
        ),
        (
            Column("No temperature", "right", aside="no temperature on {} days"),
            lambda year: str(year.missing_temperature_days or ""),
        ),
        (
            Column("Stands for the future", aside="stands for the future: {}"),
            lambda year: "yes" if year.usable else "",
        ),
    )
    parts += [title("Years"), years]
    listed = answer.rows(days)
    if listed:
        first, last = listed[0].on, listed[-1].on
        parts += [title(f"Days from {first} to {last}"), _days_table(listed, units)]
    return Group(*parts)


def _days_table(rows: Sequence[WeatherDay], units: Units) -> RenderableType:
    def degrees(value: float | None) -> str:
        return format_temperature(nan if value is None else value, units)

    return table(
        rows,
        (Column("Day"), lambda row: day_words(row.on)),
        (Column("Lowest", "right"), lambda row: degrees(row.tmin_c)),
        (Column("Highest", "right"), lambda row: degrees(row.tmax_c)),
        (
            Column("Rain", "right"),
            lambda row: format_rain(nan if row.rain_mm is None else row.rain_mm, units),
        ),
        (
            Column("Source", aside="{}"),
            lambda row: ", ".join(sorted({row.tmin_source, row.tmax_source, row.rain_source})),
        ),
    )


def diary_table(listed: EntriesListed) -> RenderableType:
    """Return diary entries in words, behind what names them for an undo."""
    rows = [
        f"{entry.uuid[:8]}  {entry.words}{'' if entry.in_force else ' (taken back)'}"
        for entry in listed.entries
    ]
    if listed.last_on is not None:
        more = "1 entry" if listed.later == 1 else f"{listed.later} entries"
        rows.append(
            f"Left out: {more} of later days, up to {dated_words(listed.last_on)}. "
            f"--today {listed.last_on} shows them."
        )
    return lines(rows or ["Nothing is written down yet."])


def sales_table(
    rows: Sequence[Sold], takings: Sequence[OutletTakings], units: Units
) -> RenderableType:
    """Return what went where, and what it brought."""
    from fruitcast.app.diary_tables import NOTHING_SOLD

    if not rows:
        return lines([NOTHING_SOLD])
    listing = table(
        rows,
        (Column("Date"), lambda row: row.on.isoformat()),
        (Column("Outlet"), lambda row: row.outlet or "not named"),
        (Column("Weight", "right"), lambda row: format_weight(row.kg, units)),
        (Column("Label"), lambda row: row.label or "not known"),
        (Column("Strain class", aside="{}"), lambda row: row.strain_class or ""),
        (Column("Tree", aside="{}"), lambda row: row.tree or ""),
        (Column("Taken", aside="{}"), lambda row: row.by),
        (Column("Grade", aside="{}"), lambda row: row.grade),
        (
            Column("Paid", "right", aside="for {}"),
            lambda row: "" if row.paid is None else f"{row.paid:.2f}",
        ),
    )
    told = [taking for taking in takings if taking.words]
    if not told:
        return listing
    of_year = len({taking.year for taking in told}) > 1
    return Group(
        listing,
        title("Takings"),
        lines([f"{taking.year}: {taking.words}" if of_year else taking.words for taking in told]),
    )


def trace_table(rows: Sequence[PartOfPick], units: Units) -> RenderableType:
    """Return where each pick came from and went."""
    from fruitcast.app.diary_tables import NOTHING_PICKED

    if not rows:
        return lines([NOTHING_PICKED])
    return table(
        rows,
        (Column("Pick"), lambda row: row.pick),
        (Column("Weight", "right"), lambda row: format_weight(row.kg, units)),
        (Column("Went"), lambda row: row.went_words),
        (Column("On", aside="on {}"), lambda row: row.on.isoformat() if row.on else ""),
        (Column("Grade", aside="{}"), lambda row: row.grade),
        (
            Column("Soaked", aside="soaked {}"),
            lambda row: ", ".join(day.isoformat() for day in row.soaked_on),
        ),
        (Column("Picked by", aside="picked by {}"), lambda row: row.picked_by),
        (Column("Tree", aside="{}"), lambda row: row.tree or ""),
    )


def year_end_table(rows: Sequence[YearRow], losses: str, units: Units) -> RenderableType:
    """Return the year's yields, group by group, and a sentence on what was lost."""
    if not rows:
        return lines(["There were no logs in that year."])
    parts: list[RenderableType] = []
    for group in dict.fromkeys(row.group for row in rows):
        listing = table(
            (row for row in rows if row.group == group),
            (Column("Name"), lambda row: row.name or "not named"),
            (Column("Logs", "right"), lambda row: str(row.logs)),
            (Column("Picked", "right"), lambda row: format_weight(row.kg, units)),
            (
                Column("A log", "right"),
                lambda row: "" if row.kg_per_log is None else format_weight(row.kg_per_log, units),
            ),
            (
                Column("Natural", "right", aside="{} of it natural"),
                lambda row: format_weight(row.natural_kg, units),
            ),
            (Column("Soaks", "right", aside="{} soaks"), lambda row: str(row.soaks)),
            (
                Column("Days to pick", "right", aside="first pick {} days after the pull"),
                lambda row: "" if row.days_to_pick is None else f"{row.days_to_pick:.1f}",
            ),
        )
        parts += [title(f"By {group}" if group != "all" else "All"), listing]
    if losses:
        parts += [lines(["", losses])]
    return Group(*parts)
