"""Single values as a grower gives them: checked, or refused with what is wrong and the remedy.

Each function takes one value (of a TOML file, or the text of a spreadsheet cell) and returns
what is meant. It knows nothing of files; the caller adds the place.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable
from contextlib import suppress
from datetime import date, datetime, time, timedelta
from difflib import get_close_matches
from zoneinfo import ZoneInfo, available_timezones

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

EARLIEST, LATEST = date(1950, 1, 1), date(2200, 1, 1)
"""Dates outside are slips of the pen."""

SPREADSHEET_EPOCH = date(1899, 12, 30)
"""Day 0 of the day numbers that spreadsheets keep for dates."""

LATER_EPOCH = timedelta(days=1462)
"""Those that count from 1904 begin so much later."""


class WrongValueError(ValueError):
    """A value that cannot be right.

    Attributes
    ----------
    problem : str
        What is wrong, with the value as given; no full stop.
    remedy : str
        What to do next, a whole sentence.
    """

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem}. {remedy}")


def shown(value: object) -> str:
    """Return a value as it is shown in a message, cut short when long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, (int, float)):
        # A whole number of thousands of digits cannot even be written out.
        return f"{value:g}" if isinstance(value, float) or abs(value) < 10**15 else "a huge number"
    text = " ".join(str(value).split())
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    return f"'{text if len(text) <= 60 else text[:57] + '...'}'"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that a misspelt one most likely means, if any is near.

    Case, blanks, hyphens and underscores don't count.
    """
    plain = {_plain(name): name for name in known}
    near = get_close_matches(_plain(word), plain, n=1, cutoff=0.6)
    if not near and len(_plain(word)) >= 3:
        near = [name for name in plain if name.startswith(_plain(word))]
    return plain[near[0]] if near else None


def _plain(word: str) -> str:
    return re.sub(r"[\s_\-]+", " ", word).strip().casefold()


def choice(value: object, known: tuple[str, ...]) -> str:
    """Return one of the known words; case, blanks, hyphens and underscores don't count."""
    if isinstance(value, str):
        for word in known:
            if _plain(value) == _plain(word):
                return word
        near = nearest(value, known)
    else:
        near = None
    hint = f"Did you mean '{near}'? " if near else ""
    raise WrongValueError(f"{shown(value)} is not known", f"{hint}Give one of: {', '.join(known)}.")


def text(value: object) -> str:
    """Return a text on one line, without blanks at its ends."""
    if not isinstance(value, str):
        raise WrongValueError(f"{shown(value)} is not a text", "Put it in quotes.")
    line = " ".join(value.split())
    if not line.isprintable():
        raise WrongValueError(f"{shown(value)} holds unprintable characters", "Type it again.")
    return line


def name(value: object) -> str:
    """Return a text that is not empty."""
    line = text(value)
    if not line:
        raise WrongValueError("is empty", "Give it a name.")
    return line


def contact(value: object) -> str:
    """Return an e-mail address or a web page that a service can be told."""
    line = name(value)
    if len(line) > 100 or not line.isascii() or " " in line or not set("@.") & set(line):
        raise WrongValueError(
            f"{line[:100]!r} is neither an e-mail address nor a web page",
            'Write, for instance, contact = "you@example.org", or leave the line out.',
        )
    return line


def number(
    value: object, low: float, high: float, unit: str, *, share: bool = False, above: bool = False
) -> float:
    """Return a number inside its range, both ends included, or all but `low` itself if `above`.

    Texts and true or false are refused. The unit is words for the remedy; `share` says whether it
    is a share, so that 85 most likely means 85 %.
    """
    wanted = f"Give a number {'above' if above else 'from'} {low:g} {'up ' if above else ''}to "
    wanted += f"{high:g}{f' {unit}' if unit else ''}."
    if isinstance(value, str):
        raise WrongValueError(
            f"{shown(value)} is a text, not a number", f"{wanted} Without quotes or unit."
        )
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise WrongValueError(f"{shown(value)} is not a number", wanted)
    # A whole number of hundreds of digits is no float.
    huge = isinstance(value, int) and abs(value) > 10**15
    if not huge and (low < value if above else low <= value) and value <= high:
        return float(value)
    if share and 1 < value <= 100:
        raise WrongValueError(
            f"{shown(value)} is not a share of one", f"Write {value / 100:g} for {value:g} %."
        )
    raise WrongValueError(f"{shown(value)} is out of range", wanted)


def count(value: object, low: int, high: int, unit: str) -> int:
    """Return a whole number inside its range."""
    if isinstance(value, float) and not value.is_integer():
        raise WrongValueError(
            f"{shown(value)} is not a whole number",
            f"Give a whole number from {low} to {high} {unit}.",
        )
    return int(number(value, low, high, unit))


def weekday(value: object) -> int:
    """Return a weekday from its English name or its first two letters or more; Monday is 0."""
    if isinstance(value, str):
        word = value.strip().rstrip(".").casefold()
        for index, day in enumerate(WEEKDAYS):
            if len(word) >= 2 and day.casefold().startswith(word):
                return index
        near = nearest(value, WEEKDAYS) or nearest(value, [day[:3] for day in WEEKDAYS])
    else:
        near = None
    hint = f"Did you mean '{near}'? " if near else ""
    raise WrongValueError(
        f"{shown(value)} is not a day of the week", f'{hint}Write it like "Tue" or "Tuesday".'
    )


def weekdays(value: object) -> tuple[int, ...]:
    """Return the days of the week in a list, or in one text with commas, in order."""
    if isinstance(value, str):
        value = [part for part in re.split(r"[,;]", value) if part.strip()]
    if not isinstance(value, list):
        raise WrongValueError(
            f"{shown(value)} is not a list of days", 'Write it like ["Tue", "Fri"].'
        )
    days = [weekday(part) for part in value]
    if not days:
        raise WrongValueError("names no day", 'Write it like ["Tue", "Fri"].')
    for index, day in enumerate(days):
        if day in days[:index]:
            raise WrongValueError(f"{WEEKDAYS[day]} is named twice", "Name each day once.")
    return tuple(sorted(days))


def day_once(value: object) -> date:
    """Return a date given as a TOML date or as a text like "2027-05-15"."""
    if isinstance(value, datetime):
        raise WrongValueError(f"{shown(value)} has a time of day", f"Write {value.date()}.")
    if isinstance(value, date):
        return _plausible(value)
    if isinstance(value, str):
        return iso_date(value)
    raise WrongValueError(f"{shown(value)} is not a date", "Write it like 2027-05-15.")


def month_day(value: object) -> MonthDay:
    """Return month and day of every year from a text like "04-15"."""
    if isinstance(value, date):
        raise WrongValueError(
            f"{shown(value)} is one date, and a day of every year is wanted",
            f'Write "{value.month:02}-{value.day:02}", with quotes.',
        )
    found = re.fullmatch(r"\s*(\d{1,2})-(\d{1,2})\s*", value) if isinstance(value, str) else None
    # 29 February exists in some years, so a leap year decides.
    if found and 1 <= int(found[1]) <= 12:
        last = calendar.monthrange(2024, int(found[1]))[1]
        if 1 <= int(found[2]) <= last:
            return int(found[1]), int(found[2])
    raise WrongValueError(
        f"{shown(value)} is not a day of the year",
        'Write month and day like "04-15" for 15 April, with quotes.',
    )


def season_end(value: object) -> date | MonthDay:
    """Return a date once, or month and day of every year."""
    if isinstance(value, str) and re.fullmatch(r"\s*\d{1,2}-\d{1,2}\s*", value):
        return month_day(value)
    if isinstance(value, (str, date)):
        return day_once(value)
    raise WrongValueError(
        f"{shown(value)} is not a date",
        'Write 2027-05-15 for one year, or "05-15" with quotes for every year.',
    )


def clock_time(value: object) -> time:
    """Return a time of day given as a TOML time or a text like "08:00"."""
    if isinstance(value, time):
        return value.replace(second=0, microsecond=0)
    found = re.fullmatch(r"\s*(\d{1,2}):(\d{2})\s*", value) if isinstance(value, str) else None
    if found and int(found[1]) <= 23 and int(found[2]) <= 59:
        return time(int(found[1]), int(found[2]))
    raise WrongValueError(
        f"{shown(value)} is not a time of day", 'Write it like "08:00", on a clock of 24 hours.'
    )


def zone(value: object) -> ZoneInfo:
    """Return a time zone by its name in the IANA data base."""
    if not isinstance(value, str):
        raise WrongValueError(f"{shown(value)} is not a text", 'Write it like "America/New_York".')
    try:
        return ZoneInfo(value)
    except (ValueError, KeyError, OSError):
        near = _nearest_zone(value)
    hint = f"The nearest known one is '{near}'" if near else 'Write it like "America/New_York"'
    raise WrongValueError(
        f"{shown(value)} is not a time zone", f"{hint}; names are region and city."
    ) from None


def _nearest_zone(word: str) -> str | None:
    zones = sorted(available_timezones())
    cities = {zone.rpartition("/")[2]: zone for zone in zones if "/" in zone}
    city = nearest(word.rpartition("/")[2], cities)
    return nearest(word, zones) or (cities[city] if city else None)


_FRACTION = re.compile(r"(?:(\d{1,3})[ -]?)?(?:(\d{1,2})/(\d{1,2})|([\u00bc\u00bd\u00be]))")
_SIGNS = {"\u00bc": 0.25, "\u00bd": 0.5, "\u00be": 0.75}
FRACTION_AS_DATE = re.compile(r"\d{1,2}[-. ]+[A-Za-z]{3}\.?|[A-Za-z]{3}[-. ]+\d{1,2}")


def _fraction(text: str) -> float | None:
    """Return a number like '4 1/2' or '4\u00bd', None when it is none or no proper fraction."""
    found = _FRACTION.fullmatch(text)
    if found is None:
        return None
    part = _SIGNS.get(found[4] or "")
    if part is None:
        upper, lower = int(found[2]), int(found[3])
        if not 0 < upper < lower or (found[1] and " " not in text and "-" not in text):
            return None
        part = upper / lower
    return int(found[1] or 0) + part


def cell_number(cell: str) -> float:
    """Return the number in a spreadsheet cell, with decimal point, comma or fraction."""
    fraction = _fraction(" ".join(cell.split()))
    if fraction is not None:
        return fraction
    if cell.strip().startswith("#"):
        raise WrongValueError(
            f"{shown(cell)} is what a spreadsheet writes for a formula that failed",
            "Mend the formula, or type the number in.",
        )
    if FRACTION_AS_DATE.fullmatch(cell.strip()):
        raise WrongValueError(
            f"{shown(cell)} is a date where a number belongs",
            "A spreadsheet has taken a fraction or a decimal for it: type the number as 4.5.",
        )
    # Blanks and apostrophes only where they part thousands: '1 200', never '12 5'.
    plain = re.sub(r"(?<=\d)[\s'](?=\d{3}(?!\d))", "", cell.strip()).replace("\u2212", "-")
    if "," in plain and "." in plain:
        thousands = "," if plain.rindex(",") < plain.rindex(".") else "."
        plain = plain.replace(thousands, "")
    plain = plain.replace(",", ".")
    if re.fullmatch(r"[+-]?(?:\d{1,15}(?:\.\d{0,15})?|\.\d{1,15})", plain) is None:
        raise WrongValueError(
            f"{shown(cell)} is not a number", "Give digits only; the unit stands in the column."
        )
    return float(plain)


def iso_date(cell: str) -> date:
    """Return a date written like 2027-05-15; anything else is refused with what to write."""
    words = cell.strip()
    found = re.fullmatch(r"(\d{4}-\d{2}-\d{2})(?:[T ]00:00(?::00(?:\.0+)?)?)?", words)
    if found:
        try:
            return _plausible(date.fromisoformat(found[1]))
        except WrongValueError:
            raise
        except ValueError:
            raise WrongValueError(
                f"{shown(words)} is no day of the calendar", "Correct it."
            ) from None
    if re.fullmatch(r"\d{5}(?:[.,]0+)?", words):
        day = SPREADSHEET_EPOCH + timedelta(days=int(words[:5]))
        later = day + LATER_EPOCH
        raise WrongValueError(
            f"{shown(words)} is a spreadsheet's day number",
            f"Format the column as a date like 2027-05-15; if it is right, it means {day}. Where "
            f"days are counted from 1904 it means {later}.",
        )
    raise WrongValueError(
        f"{shown(words)} is not a date like 2027-05-15", _instead_of_other_date(words)
    )


def date_or_year(cell: str) -> tuple[date, bool]:
    """Return a date, or the first day of a year and True when only a year was written.

    A year and month are the first day of that month.
    """
    words = cell.strip()
    if re.fullmatch(r"[1-9]\d{3}", words):
        return _plausible(date(int(words), 1, 1)), True
    if re.fullmatch(r"[1-9]\d{3}-(?:0[1-9]|1[0-2])", words):
        words = f"{words}-01"
    try:
        return iso_date(words), False
    except WrongValueError as error:
        remedy = f"{error.remedy} A year and month, or a year alone, will do."
        raise WrongValueError(error.problem, remedy) from None


def _instead_of_other_date(words: str) -> str:
    """Return the remedy for a date in another order: what to write, when that is certain."""
    readings: list[date] = []
    found = re.fullmatch(r"(\d{1,4})[./\- ](\d{1,2})[./\- ](\d{1,4})", words)
    if found:
        first, second, third = (int(part) for part in found.groups())
        orders = (
            [(first, second, third)]
            if len(found[1]) == 4
            else [(third, second, first), (third, first, second)]
        )
        for year, month, day in orders if max(first, third) >= 1000 else ():
            with suppress(ValueError):
                readings.append(date(year, month, day))
        readings = list(dict.fromkeys(readings))
    if not readings:
        return "Write year, month and day like 2027-05-15."
    if len(readings) == 1:
        return f"Write {readings[0]}."
    return f"Write {readings[0]} or {readings[1]}, whichever is meant."


def _plausible(day: date) -> date:
    if not EARLIEST <= day <= LATEST:
        raise WrongValueError(f"{day} can't be right", "Check the year.")
    return day


MonthDay = tuple[int, int]
"""Month and day of every year."""
