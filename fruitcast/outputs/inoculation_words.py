"""A batch or a programme of inoculations, for reading in the terminal, in the yard's units.

Everything returned is a rich renderable that fits the window, down to 60 columns.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TypeVar

from rich.console import Group, RenderableType

from fruitcast.biology.yields import hemisphere
from fruitcast.diary.plan import LikelyDays
from fruitcast.inoculation.answers import (
    BatchAnswer,
    BatchDates,
    BatchMaterials,
    BatchYield,
    FromTo,
    Holes,
    Inoculation,
    LogsForAPound,
    Money,
    MoneyOfYear,
    ProgrammeAnswer,
    Season,
    SettledWeek,
)
from fruitcast.outputs.drilling_drawing import bit_words, depth_words
from fruitcast.outputs.listing import Column, Heading, Indented, Listing, Row, table
from fruitcast.units import KG_PER_LB, M_PER_FT, UNIT_OF_WEIGHT, Units, format_length, format_weight
from fruitcast.words import (
    MONTHS,
    count_words,
    dated_words,
    day_words,
    percent_words,
    season_words,
    share_words,
    span_words,
)
from fruitcast.yard.model import Yard

_LEAST_WATERINGS = 0.1


def batch_table(document: BatchAnswer, yard: Yard) -> RenderableType:
    """Return a batch: what it takes, its calendar, what it will give, what to beware of."""
    units = yard.units
    return Group(
        Heading(
            f"{document.stack}: {count_words(document.logs, 'log')} of {document.tree}, "
            f"{document.strain_class}, {document.spawn} spawn"
        ),
        Indented(_wood_words(document, units)),
        Heading("Holes"),
        *(Indented(line) for line in _hole_lines(document.holes, units)),
        Heading("It takes"),
        *(Indented(line) for line in _materials_lines(document.materials, units)),
        Heading("Calendar"),
        *(Indented(line) for line in _calendar_lines(document.calendar, yard)),
        Heading("It gives"),
        *_gives(document.gives, yard),
        *beware(document.cautions),
    )


def _wood_words(document: BatchAnswer, units: Units) -> str:
    weight = document.weight
    return (
        f"{format_length(document.diameter_m, units)} thick, "
        f"{format_length(document.length_m, units)} long; a fresh log weighs about "
        f"{format_weight(weight.log_kg, units)}, all of them "
        f"{format_weight(weight.batch_kg, units)}."
    )


def _hole_lines(holes: Holes, units: Units) -> list[str]:
    rows = sorted(set(holes.by_row), reverse=True)
    lines = [
        f"{count_words(holes.per_log, 'hole')} a log: {holes.rows} rows of "
        f"{' and '.join(map(str, rows))}{' in turn' if len(rows) > 1 else ''}, "
        f"{format_length(holes.spacing_m, units)} from hole to hole, "
        f"{format_length(holes.row_distance_m, units)} from row to row, the first "
        f"{format_length(holes.end_distance_m, units)} from the end, every second row set off "
        "by half.",
        f"Bit {bit_words(holes.bit_m, units)}, {depth_words(holes.depth_m, units)} deep.",
    ]
    if holes.seam_breaks_stagger:
        lines.append(
            "The number of rows is odd: the last and the first meet without being set off."
        )
    return lines


def _materials_lines(materials: BatchMaterials, units: Units) -> list[str]:
    spawn = (
        f"{format_weight(materials.sawdust_kg, units)} of sawdust spawn"
        if materials.sawdust_kg
        else f"{materials.pieces:,} pieces of spawn"
    )
    wax = f", {format_weight(materials.wax_kg, units)} of wax" if materials.wax_kg else ""
    floor = (
        f"{materials.floor_m2 / M_PER_FT**2:.0f} square feet"
        if units == "us"
        else f"{materials.floor_m2:.1f} square metres"
    )
    return [
        f"{materials.holes:,} holes, {spawn}{wax}.",
        f"{materials.hours:.1f} hours: drilling {materials.drilling_hours:.1f}, filling "
        f"{materials.filling_hours:.1f}, waxing {materials.waxing_hours:.1f}, handling "
        f"{materials.handling_hours:.1f}.",
        f"About {count_words(materials.trees, 'tree')}; {floor} of ground for the stacks, paths "
        "left aside.",
    ]


def _calendar_lines(calendar: BatchDates, yard: Yard) -> list[str]:
    lines = []
    if calendar.fell:
        fell = calendar.fell
        lines.append(
            f"Fell {_days(fell)}: from leaf fall to the leaf-out of an early year (leaves come "
            f"about {_middle(calendar.leaf_out)})."
        )
    if calendar.inoculate:
        lines.append(
            f"Inoculate {_days(calendar.inoculate)}, within two weeks of felling; counted here "
            f"from {dated_words(calendar.inoculate_on)}. Last frost about "
            f"{_middle(calendar.last_frost)}."
        )
    if calendar.turn_on:
        days = ", ".join(dated_words(day) for day in calendar.turn_on)
        lines.append(f"Turn and restack about {days}.")
    wet = [w for w in calendar.waterings if w.expected >= _LEAST_WATERINGS]
    if wet:
        months = ", ".join(f"{MONTHS[w.month - 1]} {w.expected:.1f}" for w in wet)
        lines.append(f"Waterings to expect in the first year, by month: {months}.")
    lines.append(f"Spawn run done {_between(calendar.ready)}.")
    if calendar.first_soak_from:
        lines.append(f"First soak not before {dated_words(calendar.first_soak_from)}.")
    lines.append(f"First natural flush, if not soaked: {_between(calendar.first_natural)}.")
    if calendar.retire_after:
        lines.append(f"Worth keeping to the end of {_season(calendar.retire_after, yard)}.")
    return lines


def _season(number: int, yard: Yard) -> str:
    return season_words(number, southern=hemisphere(yard.site.latitude) == "south")


def _gives(crop: BatchYield, yard: Yard) -> list[RenderableType]:
    units = yard.units
    if not crop.years:
        words = "Nothing within three seasons: such logs are too slow at this site."
        return [Indented(words, style="bold")]
    low, high = crop.best_practice_share_of_fresh_wood
    years = table(
        crop.years,
        (Column("Year"), lambda year: _season(year.year, yard)),
        (Column("A log gives", "right"), lambda year: format_weight(year.mean_kg_per_log, units)),
        (
            Column("In 8 of 10 cases", "right", aside="{} in 8 of 10 cases"),
            lambda year: (
                f"{format_weight(year.p10_kg_per_log, units)} to "
                f"{format_weight(year.p90_kg_per_log, units)}"
            ),
        ),
        (Column("All logs", "right"), lambda year: format_weight(year.mean_kg, units)),
    )
    life = (
        f"In its life a log gives about {format_weight(crop.life_kg_per_log, units)}: "
        f"{percent_words(crop.share_of_fresh_wood)} of its fresh weight (best practice "
        f"{percent_words(low)} to {percent_words(high)}, Leatham 1982), "
        f"{percent_words(crop.share_of_dry_wood)} of its dry wood (an outdoor trial 0 to "
        f"{crop.trial_share_of_dry_wood[1] * 100:.1f}%)."
    )
    return [years, Indented(life)]


def beware(cautions: Sequence[str]) -> list[RenderableType]:
    """Return the cautions under their heading."""
    return [Heading("Beware"), *(Indented(caution) for caution in cautions)]


def _days(span: FromTo) -> str:
    first, last = span.first, span.last
    if first.year == last.year:
        return f"{span_words(first, last)} {last.year}"
    return f"{span_words(first, first)} {first.year} to {span_words(last, last)} {last.year}"


def _middle(days: LikelyDays) -> str:
    return "no day" if days.p50 is None else day_words(days.p50)[4:]


def _between(days: LikelyDays) -> str:
    early, middle, late = days.p10, days.p50, days.p90
    if middle is None:
        return (
            "not within three seasons" if early is None else f"{dated_words(early)} at the earliest"
        )
    words = f"about {dated_words(middle)}"
    if early is not None:
        words += f", in 8 of 10 cases from {dated_words(early)}"
        words += " on" if late is None else f" to {dated_words(late)}"
    return words


# A programme of inoculations, for reading in the terminal, in the yard's units.
#
# Everything returned is a rich renderable that fits the window, down to 60 columns.

OfYear = TypeVar("OfYear", bound=Season | MoneyOfYear)

CAUSES: dict[str, str] = {
    "rotation": "rest and season, beside one soak in eight weeks",
    "wear": "age, wood and size: a log gives its most in two or three of its years",
    "weather": "heat, cold, rain and failed soaks, natural flushes that come on top",
    "loss": "slugs and broken caps",
    "surplus": (
        "what comes in weeks that don't want it: the price of being sure of a yard and of seasons "
        "that nobody knows yet"
    ),
    "short": "what even so is short",
    "spawn run": "logs that don't bear yet",
}
"""The causes of a difference to the rule of thumb, in words."""


def programme_table(document: ProgrammeAnswer, yard: Yard) -> RenderableType:
    """Return a programme: what to inoculate when, what each year brings, and why so many logs."""
    units = yard.units
    parts: list[RenderableType] = [
        Heading(f"Logs to inoculate in {count_words(document.years, 'year')}"),
        *_next_logs(document.inoculate, units),
        *_goal(document, units),
        _inoculations(document.inoculate, yard),
        Heading("What that brings"),
        _seasons(_shown(document.seasons, document.years), yard),
    ]
    if document.leaving:
        parts += [
            Heading("What stands"),
            Indented(
                "; ".join(
                    f"{entry.stack} ({count_words(entry.logs, 'log')}) to "
                    f"{_season(entry.last_year, yard)}"
                    for entry in document.leaving
                )
                + ". After that a season would give less than is worth the work."
            ),
        ]
    if document.settled_year:
        parts += [
            Heading("A settled year: logs soaked, and what is picked"),
            _shape(document.settled_year, units),
        ]
    if document.logs_per_pound:
        parts += [Heading("Logs for a pound a week"), *_per_pound(document.logs_per_pound, units)]
    doubt = round(document.doubt_logs or 0.0)
    if doubt:
        parts += [Heading("Not knowing how well logs will bear"), _doubt(document, doubt)]
    if document.money:
        parts += [Heading("Money"), *_money(document.money, document.years, yard)]
    return Group(*parts, *beware(document.cautions))


def _next_logs(entries: Sequence[Inoculation], units: Units) -> list[RenderableType]:
    """Return what the first spring asks for: logs, trees to fell, spawn, wax, hours."""
    if not entries:
        return []
    first = [entry for entry in entries if entry.year == entries[0].year]
    kinds = sorted(first, key=lambda entry: -entry.logs)
    logs = ", ".join(f"{entry.logs} {entry.strain_class} on {entry.tree}" for entry in kinds)
    stuff = ", ".join(_stuff(first, units))
    years = {entry.year for entry in entries}
    later = sum(entry.logs for entry in entries) / len(years)
    return [
        Indented(
            f"In {first[0].year}: {count_words(sum(entry.logs for entry in first), 'log')} from "
            f"about {count_words(sum(entry.trees for entry in first), 'tree')}: {logs}. That is "
            f"{sum(entry.holes for entry in first):,} holes, {stuff} and about "
            f"{sum(entry.hours for entry in first):.0f} hours. Over the years about "
            f"{later:.0f} logs a year."
        )
    ]


def _doubt(document: ProgrammeAnswer, logs: int) -> RenderableType:
    last = max(entry.year for entry in document.inoculate)
    whole = sum(entry.logs for entry in document.inoculate if entry.year == last)
    return Indented(
        f"About {logs} of the {count_words(whole, 'log')} of {last} are for what nobody knows "
        "beforehand: how well your yard bears, and the season. Each pick written down tells more "
        "of the yard, and fewer will do."
    )


def _stuff(entries: Sequence[Inoculation], units: Units) -> Iterator[str]:
    """Yield spawn and wax of some logs, by form of spawn."""
    sawdust = sum(entry.sawdust_kg for entry in entries)
    if sawdust:
        yield f"{format_weight(sawdust, units)} of sawdust spawn"
    for form in sorted({entry.spawn for entry in entries if not entry.sawdust_kg}):
        pieces = sum(entry.pieces for entry in entries if entry.spawn == form)
        yield f"{pieces:,} {form}s"
    wax = sum(entry.wax_kg for entry in entries)
    if wax:
        yield f"{format_weight(wax, units)} of wax"


def _goal(document: ProgrammeAnswer, units: Units) -> list[RenderableType]:
    wanted = ", ".join(
        f"{outlet.outlet} {format_weight(outlet.target_kg, units)}" for outlet in document.outlets
    )
    met = percent_words(document.chance)
    kept_on = " The last year's number is kept on ever after." if document.inoculate else ""
    return [
        Indented(
            f"For {wanted}. {percent_words(document.wished_chance)} of the sales are to be met "
            f"in full; {met} are, over weather years that the programme was not made for, from "
            "the first year on in which new logs bear fully. That is with soaks fixed long ahead; "
            f"planning anew each week does better.{kept_on}"
        )
    ]


def _inoculations(entries: Sequence[Inoculation], yard: Yard) -> RenderableType:
    if not entries:
        return Indented("None: what stands is enough, or nothing was to be inoculated.")
    return table(
        entries,
        (Column("Year"), lambda entry: str(entry.year)),
        (Column("Logs", "right"), lambda entry: str(entry.logs)),
        (Column("Class"), lambda entry: entry.strain_class),
        (Column("Tree"), lambda entry: entry.tree),
        (
            Column("Bears", aside="bears {}"),
            lambda entry: f"{_season(entry.bears_from, yard)} to {_season(entry.bears_to, yard)}",
        ),
        (Column("Holes", "right", aside="{} holes"), lambda entry: f"{entry.holes:,}"),
        (Column("Hours", "right", aside="{} hours"), lambda entry: f"{entry.hours:.1f}"),
        (Column("Trees", "right", aside="{} trees"), lambda entry: str(entry.trees)),
        note=lambda entry: ", ".join(_stuff([entry], yard.units)),
        notes="Spawn and wax",
    )


def _shown(seasons: Sequence[OfYear], years: int) -> list[OfYear]:
    """Return the seasons of the programme's years, and the last: the settled yard."""
    return [*seasons[: years + 1], *seasons[years + 1 :][-1:]]


def _seasons(seasons: Sequence[Season], yard: Yard) -> RenderableType:
    units = yard.units
    return table(
        seasons,
        (Column("Year"), lambda season: _season(season.year, yard)),
        (Column("Bearing", "right"), lambda season: str(season.bearing_logs)),
        (
            Column("Spawn run", "right", aside="{} in spawn run"),
            lambda season: str(season.spawn_run_logs or ""),
        ),
        (
            Column("Leaving", "right", aside="{} leaving"),
            lambda season: str(season.leaving_logs or ""),
        ),
        (Column("Wanted", "right"), lambda season: _sold(season, units)[0]),
        (Column("Sold", "right"), lambda season: _sold(season, units)[1]),
        (
            Column("In 8 of 10 years", "right", aside="{} in 8 of 10 years"),
            lambda season: _sold(season, units)[2],
        ),
        (Column("Met", "right"), lambda season: share_words(season.chance)),
    )


def _sold(season: Season, units: Units) -> tuple[str, str, str]:
    """Return wanted, sold and its range; blank in a season in which nothing is wanted."""
    if not season.target_kg:
        return "", "", ""
    amounts = (season.target_kg, season.sold_kg, season.sold_p10_kg, season.sold_p90_kg)
    wanted, sold, low, high = (format_weight(kg, units) for kg in amounts)
    return wanted, sold, f"{low} to {high}"


def _shape(entries: Sequence[SettledWeek], units: Units) -> RenderableType:
    months: dict[int, dict[str, tuple[float, float]]] = {}
    classes = sorted({entry.strain_class for entry in entries})
    for entry in entries:
        month = months.setdefault(entry.week.month, {})
        soaked, picked = month.get(entry.strain_class, (0.0, 0.0))
        month[entry.strain_class] = (soaked + entry.soaked_logs, picked + entry.picked_kg)
    return Listing(
        (Column("Month"), *(Column(name, "right") for name in classes)),
        [
            Row(
                MONTHS[month - 1],
                *(
                    f"{found[name][0]:.0f} / {format_weight(found[name][1], units)}"
                    if name in found
                    else ""
                    for name in classes
                ),
            )
            for month, found in months.items()
        ],
    )


def _per_pound(found: LogsForAPound, units: Units) -> list[RenderableType]:
    thumb, farms = found.rule_of_thumb, found.whole_farms
    pounds = found.weekly_kg / KG_PER_LB
    rows = [Row(f"x {cause.factor:.2f}", CAUSES[cause.cause]) for cause in found.causes]
    return [
        Indented(
            f"{found.logs_per_lb_a_week:.0f} of a settled yard, all logs counted. The rule of "
            f"thumb says {thumb[0]:.0f} to {thumb[1]:.0f}, whole farms report {farms[0]:.0f} to "
            f"{farms[1]:.0f}. For {format_weight(found.weekly_kg, units)} a week it would have "
            f"you keep {thumb[0] * pounds:.0f} to {thumb[1] * pounds:.0f} logs instead of "
            f"{found.logs:.0f}. From the rule of thumb with our flush, "
            f"{found.rule_of_thumb_with_our_flush:.0f}, to ours:"
        ),
        Listing((Column("Factor", "right"), Column("Cause")), rows),
    ]


def _money(money: Money, shown: int, yard: Yard) -> list[RenderableType]:
    units = yard.units
    unit, pound = UNIT_OF_WEIGHT[units]
    parts: list[RenderableType] = []
    for kind in money.kinds:
        words = (
            f"A {kind.strain_class} log of {kind.tree} costs {kind.start:.2f} until it "
            f"lies in the yard (wood {kind.wood:.2f}, spawn {kind.spawn:.2f}, wax "
            f"{kind.wax:.2f}, work {kind.inoculating:.2f}) and {kind.life:.2f} with the "
            f"soaks of its life."
        )
        if kind.break_even_kg is not None:
            words += (
                f" It pays for itself with {format_weight(kind.break_even_kg, units)} sold; "
                f"{format_weight(kind.life_sold_kg, units)} can be expected."
            )
        if kind.left_out:
            words += f" Not counted, as no price is entered: {', '.join(kind.left_out)}."
        parts.append(Indented(words))
    if money.price_per_kg is None:
        parts.append(Indented("No outlet has a price, so there is no income to tell."))
        return parts
    listing = table(
        _shown(money.years, shown),
        (Column("Year"), lambda year: _season(year.year, yard)),
        (Column("Income", "right"), lambda year: f"{year.income:.0f}"),
        (Column("Spent", "right"), lambda year: f"{year.spent:.0f}"),
        (Column("Margin", "right"), lambda year: f"{year.margin:.0f}"),
        (
            Column("In 8 of 10 years", "right", aside="{} in 8 of 10 years"),
            lambda year: f"{year.margin_p10:.0f} to {year.margin_p90:.0f}",
        ),
        (
            Column(f"Margin a {unit}", "right", aside=f"{{}} a {unit}"),
            lambda year: "" if year.margin_per_kg is None else f"{year.margin_per_kg * pound:.2f}",
        ),
    )
    return [*parts, listing]
