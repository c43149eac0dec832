"""Published documents in the diary: kept small, and fewer of them the older they are."""

from __future__ import annotations

import sqlite3
import zlib
from datetime import date, timedelta

PLAN = "plan"
"""Kind of document under which the plan last published is kept in the diary."""

NEWEST_PLANS = 7
"""Plans kept whatever their age, the newest."""

WEEKLY_DAYS, MONTHLY_DAYS = 35, 183
"""Of older plans the last of each week is kept for so long, then of each month. [day]"""

NEWEST_OTHERS = 3
"""Of all other kinds so many are kept, the newest: only the last is ever asked for."""

_INSERT = "INSERT INTO documents (kind, made_on, text) VALUES (?, ?, ?)"


def keep_document(connection: sqlite3.Connection, kind: str, made_on: date, text: str) -> None:
    """Keep a document as the last one of its kind and day, and thin out those before it."""
    row = (kind, made_on.isoformat())
    connection.execute("DELETE FROM documents WHERE kind = ? AND made_on = ?", row)
    connection.execute(_INSERT, (*row, packed(text)))
    _thin_out(connection, kind, made_on)


def _thin_out(connection: sqlite3.Connection, kind: str, today: date) -> None:
    found = connection.execute(
        "SELECT id, made_on FROM documents WHERE kind = ? ORDER BY id DESC", (kind,)
    ).fetchall()
    older = found[NEWEST_PLANS if kind == PLAN else NEWEST_OTHERS :]
    spans: set[tuple[int, ...]] = set()
    dropped = []
    for number, made_on in older:
        day = date.fromisoformat(made_on)
        week = tuple(day.isocalendar()[:2])
        span = week if today - day < timedelta(WEEKLY_DAYS) else (day.year, day.month, 0)
        if kind != PLAN or span in spans or today - day >= timedelta(MONTHLY_DAYS):
            dropped.append((number,))
        spans.add(span)
    connection.executemany("DELETE FROM documents WHERE id = ?", dropped)


def pack_kept_documents(connection: sqlite3.Connection) -> None:
    """Pack the documents that were kept as plain text."""
    for number, text in connection.execute("SELECT id, text FROM documents").fetchall():
        if isinstance(text, str):
            row = (packed(text), number)
            connection.execute("UPDATE documents SET text = ? WHERE id = ?", row)


def packed(text: str) -> bytes:
    """Return a text as it is kept."""
    return zlib.compress(text.encode())


def unpacked(kept: str | bytes) -> str:
    """Return the text of a kept document, as much of it as can be read."""
    if isinstance(kept, str):  # as version 1 kept it
        return kept
    try:
        return zlib.decompressobj().decompress(kept).decode(errors="replace")
    except zlib.error:
        return ""
