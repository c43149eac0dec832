"""A round of yards in words: one line a yard, for the terminal and for the page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fruitcast.group.round import Round, YardRow
from fruitcast.units import Units, format_weight
from fruitcast.words import clean_line, count_words, day_words, percent_words

COLUMNS = ("Yard", "Soak this week", "Promised too much", "Dry logs", "Weather", "Diary")


@dataclass(frozen=True)
class RowWords:
    """A yard of the round as one says it; what is in order is empty.

    Attributes
    ----------
    yard : str
        Its name, and its folder's where that is another.
    soaks, promises, dry, weather, diary : str
        What is to be done or looked after.
    faults : tuple of str
        Why it wasn't planned.
    """

    yard: str
    soaks: str = ""
    promises: str = ""
    dry: str = ""
    weather: str = ""
    diary: str = ""
    faults: tuple[str, ...] = ()

    @property
    def cells(self) -> tuple[str, ...]:
        """Its cells, in the order of `COLUMNS`."""
        return (self.yard, self.soaks, self.promises, self.dry, self.weather, self.diary)


def round_rows(document: Round) -> tuple[RowWords, ...]:
    """Return a round's yards in words."""
    return tuple(row_words(row, document.today, document.units) for row in document.yards)


def row_words(row: YardRow, today: date, units: Units) -> RowWords:
    """Return one yard in words."""
    called = clean_line(row.name)
    yard = row.yard if not called or called == row.yard else f"{called} ({row.yard})"
    if row.faults:
        return RowWords(yard, faults=tuple(clean_line(fault) for fault in row.faults))
    return RowWords(
        yard,
        soaks=_joined(
            f"{soak.stack} {day_words(soak.soak_on)} ({count_words(soak.logs, 'log')})"
            for soak in row.soaks
        ),
        promises=_joined(
            f"{clean_line(sale.outlet)} {day_words(sale.on)}: "
            f"{format_weight(sale.given_kg, units)} given, "
            f"{format_weight(sale.promise_kg, units)} likely enough"
            for sale in row.overpromised
        ),
        dry=_joined(
            f"{dry.stack}"
            + (f" {percent_words(dry.moisture_wet)}" if dry.moisture_wet is not None else "")
            + (" urgent" if dry.urgent else "")
            for dry in row.dry
        ),
        weather=_weather(row, today) if row.weather_stale else "",
        diary=_diary(row, today),
    )


def _weather(row: YardRow, today: date) -> str:
    if row.weather_until is None:
        return "nothing observed"
    return f"ends {day_words(row.weather_until, today)}"


def _diary(row: YardRow, today: date) -> str:
    parts = []
    if row.diary_silent and row.diary_until is None:
        parts.append("never written")
    elif row.diary_silent and row.diary_until is not None:
        days = (today - row.diary_until).days
        parts.append(f"silent for {count_words(days, 'day')}")
    if row.unrecorded:
        missed = (f"{soak.stack} {day_words(soak.soak_on)}" for soak in row.unrecorded)
        parts.append(f"soak not written down: {', '.join(missed)}")
    return "; ".join(parts)


def _joined(parts: Iterable[str]) -> str:
    return ", ".join(clean_line(part) for part in parts)


def round_lines(document: Round) -> tuple[str, ...]:
    """Return what comes first: the round in a few sentences."""
    rows = document.yards
    planned = [row for row in rows if row.planned]
    soaking = [row for row in planned if row.soaks]
    soaks = [soak for row in planned for soak in row.soaks]
    lines = []
    if planned:
        lines.append(
            f"{_of(len(soaking), len(planned))} {_has(len(soaking))} something to soak this week"
            + (
                f": {count_words(len(soaks), 'stack')}, "
                f"{count_words(sum(soak.logs for soak in soaks), 'log')}."
                if soaks
                else "."
            )
        )
    for many, words in (
        (sum(bool(row.overpromised) for row in planned), "promised more than is likely to come"),
        (sum(bool(row.dry) for row in planned), "logs that want water this week"),
        (sum(row.weather_stale for row in planned), "weather that ends too early"),
        (sum(row.diary_silent for row in planned), "a silent diary"),
        (sum(bool(row.unrecorded) for row in planned), "soaks that nobody wrote down"),
    ):
        if many:
            lines.append(f"{count_words(many, 'yard')} {_has(many)} {words}.")
    faulty = len(rows) - len(planned)
    if faulty:
        lines.append(f"{count_words(faulty, 'yard')} could not be planned; see below why.")
    return tuple(lines)


def _of(many: int, all_of_them: int) -> str:
    if many == all_of_them:
        return "The only yard" if many == 1 else f"All {many} yards"
    return f"{many or 'None'} of {count_words(all_of_them, 'yard')}"


def _has(many: int) -> str:
    return "have" if many > 1 else "has"
