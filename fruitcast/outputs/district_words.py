"""A district's outlook in words: the table's cells, and a paragraph for a newsletter."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from rich.console import Group, RenderableType

from fruitcast.group.district import AHEAD_DAYS, RAIN_DAYS, ClassOutlook, District, PlaceOutlook
from fruitcast.numbers import default_numbers
from fruitcast.outputs.listing import Column, Listing, Row, lines, title
from fruitcast.topics import STRAIN_CLASSES
from fruitcast.units import Units, format_rain
from fruitcast.words import MONTHS, and_words, clean_line, dated_words, percent_words

LIKELY, POSSIBLE = 0.5, 0.25
"""A natural flush of such a chance is told as likely, as possible. Judgement. [0..1]"""

PAYS = 0.5
"""A soak that brings something in fewer of the weather years is told as none. [0..1]"""

MOST_NAMED = 4
"""Places named one by one; more are counted."""

COLUMNS = ("Place", "Rain", "Moisture", "Class", "Spawn run", "Done", "By itself", "Soak to pick")


def district_rows(document: District) -> tuple[tuple[str, ...], ...]:
    """Return a row for each place and class, in the order of `COLUMNS`."""
    rows = []
    for place in document.places:
        first = (
            clean_line(place.place),
            format_rain(place.rain_mm, document.units) if place.rain_mm is not None else "",
            percent_words(place.moisture_wet) if place.moisture_wet is not None else "",
        )
        for each in place.classes:
            rows.append((*first, *_cells(each)))
            first = ("", "", "")
    return tuple(rows)


def district_table(document: District) -> RenderableType:
    """Return a district's outlook: the paragraph, then a row for each place and class."""
    columns = [Column(name) for name in COLUMNS[:1]] + [
        Column(name, aside=f"{name.lower()} {{}}") for name in COLUMNS[1:]
    ]
    rows = [Row(*cells) for cells in district_rows(document)]
    parts: list[RenderableType] = [lines([document.paragraph])]
    if rows:
        parts += [title("Standard logs"), Listing(columns, rows)]
    faulty = [place for place in document.places if place.faults]
    if faulty:
        parts += [title("Nothing known")]
        parts += [lines([f"{place.place}: {fault}" for place in faulty for fault in place.faults])]
    return Group(*parts)


def _cells(each: ClassOutlook) -> tuple[str, ...]:
    return (
        each.strain_class,
        percent_words(each.spawn_progress),
        _months(each.spawn_ready.p10, each.spawn_ready.p90),
        percent_words(each.natural_chance),
        soak_words(each),
    )


def soak_words(each: ClassOutlook) -> str:
    """Return how long a soak of this week takes to the first pick: '14 days (12 to 17)'."""
    if not each.soak_allowed:
        return "not in this season"
    if each.soak_days is None or each.soak_comes < PAYS:
        return "brings little"
    days = each.soak_days
    return f"{days.p50} days ({days.p10} to {days.p90})"


def _months(first: date | None, last: date | None) -> str:
    if first is None:
        return "over two years"
    begin = _month(first)
    if last is None:
        return f"{begin} or later"
    end = _month(last)
    return begin if begin == end else f"{begin} to {end}"


def _month(day: date) -> str:
    return f"{MONTHS[day.month - 1]} {day.year}"


def newsletter(places: Sequence[PlaceOutlook], today: date, units: Units) -> str:
    """Return a paragraph for a newsletter: what a grower wants to know first comes first."""
    told = [place for place in places if place.classes]
    if not told:
        return ""
    parts = [
        f"Week of {dated_words(today)}.",
        *(_class_words(name, told) for name in STRAIN_CLASSES),
        _moisture(told, units),
        _spawn(told, today),
    ]
    return " ".join(part for part in parts if part)


def _class_words(name: str, places: Sequence[PlaceOutlook]) -> str:
    """Return what to do with the logs of a class: wait for a flush, soak, or neither."""
    weeks = f"within {AHEAD_DAYS // 7} weeks"
    of = {place.place: place.of(name) for place in places}
    wait = [at for at, one in of.items() if one.natural_chance >= LIKELY]
    may = [at for at, one in of.items() if POSSIBLE <= one.natural_chance < LIKELY]
    pays = {
        at: one.soak_days.p50
        for at, one in of.items()
        if at not in wait and one.soak_allowed and one.soak_days and one.soak_comes >= PAYS
    }
    left = [at for at in of if at not in wait and at not in pays]
    said = []
    if wait:
        where = "everywhere" if len(wait) == len(of) > 1 else f"at {_named(wait)}"
        said.append(
            f"Rested {name} logs will likely fruit by themselves {weeks} {where}: wait for them, "
            "a soak now is wasted."
        )
    rest = "Elsewhere" if wait else ""
    if pays and left and len(pays) <= min(len(left), MOST_NAMED):
        said.append(
            f"At {_named(list(pays))} {name} logs soaked this week are first picked "
            f"{_days_later(pays)}; leave them out of the tank everywhere else."
        )
    elif pays:
        begin = f"{rest} {name}" if rest else name.capitalize()
        said.append(f"{begin} logs soaked this week are first picked {_days_later(pays)}.")
        if left:
            said.append(f"At {_named(left)} leave them out of the tank for now.")
    elif left:
        where = "everywhere else" if wait else "this week"
        said.append(f"Leave {name} logs out of the tank {where}.")
    if may:
        said.append(f"They may fruit by themselves {weeks} at {_named(may)}: look before you soak.")
    return " ".join(said)


def _days_later(days: dict[str, int]) -> str:
    """Return '9 (Mill Creek) to 16 days (High Farm) later'."""
    quick, slow = min(days, key=lambda at: days[at]), max(days, key=lambda at: days[at])
    if days[quick] == days[slow]:
        return f"about {days[quick]} days later"
    return f"{days[quick]} ({quick}) to {days[slow]} days ({slow}) later"


def _moisture(places: Sequence[PlaceOutlook], units: Units) -> str:
    """Return how wet logs are that nobody waters, and where they want water."""
    numbers = default_numbers()
    keep, weeks = numbers.yard.keep_above, int(numbers.standard_log.wet_days) // 7
    wet = {p.place: p.moisture_wet for p in places if p.moisture_wet is not None}
    dry = sorted((at for at in wet if wet[at] < keep), key=lambda at: wet[at])
    low, high = percent_words(min(wet.values())), percent_words(max(wet.values()))
    stand = f"about {low}" if low == high else f"{low} to {high}"
    words = (
        f"Logs in the shade that were well watered {weeks} weeks ago and had only rain "
        f"since hold {stand} water by weight"
    )
    if not dry:
        return f"{words}: enough, so nobody needs to water yet."
    rain = {p.place: p.rain_mm for p in places if p.rain_mm is not None}
    driest = dry[0]
    some = f"{format_rain(rain[driest], units)} of rain" if rain[driest] >= 0.5 else "no rain"
    since = f"{some} in {RAIN_DAYS} days"
    where = "everywhere" if len(dry) == len(wet) > 1 else f"at {_named(dry)}"
    return (
        f"{words}. Water {where}: below {percent_words(keep)} is too dry ({driest} is driest, with "
        f"{percent_words(wet[driest])} after {since})."
    )


def _spawn(places: Sequence[PlaceOutlook], today: date) -> str:
    """Return how far the youngest logs are, told for the class that most people grow."""
    name = "wide-range"
    done = {p.place: p.of(name).spawn_progress for p in places}
    far, near = max(done, key=lambda at: done[at]), min(done, key=lambda at: done[at])
    this_year = all(p.inoculated is None or p.inoculated.year == today.year for p in places)
    whose = "This spring's" if this_year else "Last spring's"
    words = f"{whose} {name} logs, if kept moist, have {percent_words(done[near])}"
    if percent_words(done[near]) != percent_words(done[far]):
        words += f" ({near}) to {percent_words(done[far])} ({far})"
    words += " of their spawn run behind them"
    ready = {p.place: p.of(name).spawn_ready.p50 for p in places}
    days = {at: day for at, day in ready.items() if day is not None}
    if not days:
        return f"{words}; it takes over two years there."
    first, last = min(days, key=lambda at: days[at]), max(days, key=lambda at: days[at])
    if _month(days[first]) == _month(days[last]):
        return f"{words}. {_done(days[first], today)}."
    return f"{words}. {_done(days[first], today)} at {first}, {_month(days[last])} at {last}."


def _done(day: date, today: date) -> str:
    """Return 'Most likely done: May 2028', or that it is by now."""
    return f"Most likely done: {'by now' if day < today else _month(day)}"


def _named(places: Sequence[str]) -> str:
    """Return 'Mill Creek, High Farm and 3 more'."""
    if len(places) > MOST_NAMED:
        return f"{', '.join(places[: MOST_NAMED - 1])} and {len(places) - MOST_NAMED + 1} more"
    return and_words(places)
