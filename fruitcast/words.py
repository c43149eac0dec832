"""Days, spans, times and free text as people read them, the same in every output.

Words are English whatever the machine's locale, so that the same plan gives the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime

_LINE_ENDS = re.compile("\r\n|[\n\r\x0b\x0c\x1c-\x1e\x85\u2028\u2029]")
# Control characters, halves of surrogate pairs, and marks that turn the reading direction.
_NEVER_SHOWN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\u2066-\u2069]")


def clean_text(text: str) -> str:
    """Return free text with plain line ends and nothing that a screen or file would obey."""
    return _NEVER_SHOWN.sub("", _LINE_ENDS.sub("\n", text)).strip()


def clean_line(text: str) -> str:
    """Return free text as one line."""
    return " ".join(clean_text(text).split())


def time_words(moment: datetime) -> str:
    """Return a wall-clock time: '08:00'."""
    return f"{moment.hour:02d}:{moment.minute:02d}"


def hours_words(hours: float) -> str:
    """Return a length of time: '24 h', '1.5 h'."""
    return f"{hours:.1f}".removesuffix(".0") + " h"


def percent_words(share: float) -> str:
    """Return a share as whole per cent: '62%'; what is neither nought nor all never reads so."""
    percent = round(100 * share)
    if percent == 0 and share > 0:
        return "under 1%"
    if percent == 100 and share < 1:
        return "over 99%"
    return f"{percent}%"


def share_words(share: float | None) -> str:
    """Return a share as whole per cent, nothing where it is not known."""
    return "" if share is None else percent_words(share)


BEYOND_THREE_WEEKS = (
    "More than three weeks ahead a chance of a natural flush is only how often past years had one "
    "in that week."
)
"""Held against real years, chances further ahead tell no more than the calendar does."""


def promise_meaning(promise: float) -> str:
    """Return what the promises with a chance [0..1], and the chances beside sales, mean."""
    return (
        f"Can promise: what is there in {percent_words(promise)} of the years. All of it: the "
        "chance of having all that is wanted."
    )


MOSTLY_COMES = 0.9
"""A soak by which something comes in fewer of the years than this is told with that share."""


def comes_words(comes: float | None) -> str:
    """Return how often a soak brings anything where it often fails; else nothing.

    By the share of the years in which it does, None where that is not known. [0..1]
    """
    if comes is None or comes >= MOSTLY_COMES:
        return ""
    return f"something comes in {max(round(10 * comes), 1)} of 10 years"


LIKELY = 0.5
"""A flush by itself is called likely when so many of the members have one. [0..1]"""

NATURAL_CHANCE = 0.25
"""Least chance of a natural flush in a week that is worth a line. [0..1]"""


def count_words(number: int, noun: str) -> str:
    """Return a number with its noun: '1 log', '24 logs'."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def season_words(number: int, *, southern: bool) -> str:
    """Return a growing season by its number: '2027', in the south, from July on, '2027/28'."""
    return f"{number}/{(number + 1) % 100:02d}" if southern else str(number)


def and_words(names: Sequence[str]) -> str:
    """Return names in a row: 'A', 'A and B', 'A, B and C'."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def first_of(names: Sequence[str], most: int = 3) -> str:
    """Return the first few names and how many more there are: 'A, B, C and 2 more'."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def capital(words: str) -> str:
    """Return words with which a sentence can begin."""
    return words[:1].upper() + words[1:]


WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


HALF_A_YEAR = 183
"""Days further off than this want their year: the same day of another year is as near. [day]"""


def day_words(day: date, near: date | None = None) -> str:
    """Return a day: 'Fri 14 May'; with its year, '1 Sep 2026', when it is far from `near`."""
    if near is not None and abs((day - near).days) > HALF_A_YEAR:
        return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"


def dated_words(day: date) -> str:
    """Return a day with its year: 'Fri 14 May 2027'."""
    return f"{day_words(day)} {day.year}"


def span_words(first: date, last: date) -> str:
    """Return a span of days, both ends included: '12 to 18 May', '28 May to 2 Jun', '14 May'."""
    end = f"{last.day} {MONTHS[last.month - 1]}"
    if first == last:
        return end
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {end}"
    return f"{first.day} {MONTHS[first.month - 1]} to {end}"


def about_words(first: date, likely: date, last: date) -> str:
    """Return a day with those between which it may fall: 'Fri 14 May (12 to 18 May)'."""
    return f"{day_words(likely)} ({span_words(first, last)})"
