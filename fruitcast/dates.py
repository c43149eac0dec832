"""Days as people read them: English words whatever the machine's locale."""

from __future__ import annotations

from datetime import date

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_words(day: date, near: date | None = None) -> str:
    """Return a day: 'Fri 14 May'; with its year, '1 Sep 2026', when that is not `near`'s."""
    if near is not None and near.year != day.year:
        return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"


def span_words(first: date, last: date) -> str:
    """Return a span of days, both ends included: '12 to 18 May', '28 May to 2 Jun', '14 May'."""
    end = f"{last.day} {MONTHS[last.month - 1]}"
    if first == last:
        return end
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {end}"
    return f"{first.day} {MONTHS[first.month - 1]} to {end}"
