"""Days, spans, times and free text as people read them, the same in every output.

Words are English whatever the machine's locale, so that the same plan gives the same bytes.
"""

from __future__ import annotations

import re
from datetime import date, datetime

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

_LINE_ENDS = re.compile("\r\n|[\n\r\x0b\x0c\x1c-\x1e\x85\u2028\u2029]")
# Control characters, halves of surrogate pairs, and marks that turn the reading direction.
_NEVER_SHOWN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\u2066-\u2069]")


def clean_text(text: str) -> str:
    """Return free text with plain line ends and nothing that a screen or file would obey."""
    return _NEVER_SHOWN.sub("", _LINE_ENDS.sub("\n", text)).strip()


def clean_line(text: str) -> str:
    """Return free text as one line."""
    return " ".join(clean_text(text).split())


def day_words(day: date) -> str:
    """Return a day: 'Fri 14 May'."""
    return f"{_WEEKDAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]}"


def span_words(first: date, last: date) -> str:
    """Return a span of days, both ends included: '12 to 18 May', '28 May to 2 Jun', '14 May'."""
    end = f"{last.day} {_MONTHS[last.month - 1]}"
    if first == last:
        return end
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {end}"
    return f"{first.day} {_MONTHS[first.month - 1]} to {end}"


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


def count_words(number: int, noun: str) -> str:
    """Return a number with its noun: '1 log', '24 logs'."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
