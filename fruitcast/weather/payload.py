"""One year of one station as Meteostat's bulk files hold it.

A file is CSV, packed with gzip: the columns year, month, day, then one for each variable and one,
named with `_source` behind it, for the provider or providers that each value comes from.
"""

from __future__ import annotations

import gzip
import io
import zlib

import pandas as pd

_PARTS = ["year", "month", "day"]
_GZIP = b"\x1f\x8b"
_VARIABLES = ("temp", "tmin", "tmax", "rhum", "prcp")


class BadPayloadError(ValueError):
    """What a server sent is not a year of daily weather; the message says what it is."""


def parse_year(content: bytes) -> pd.DataFrame:
    """Return the values of one file by day and source, as Meteostat's own providers give them.

    Raises
    ------
    BadPayloadError
        If the bytes are a web page, a broken archive, or a table of another shape.
    """
    if content.startswith(_GZIP):
        try:
            content = gzip.decompress(content)
        except (OSError, EOFError, zlib.error) as error:
            raise BadPayloadError("a broken archive, perhaps cut short on the way") from error
    head = content[:500].lstrip().lower()
    if head.startswith(b"<"):
        raise BadPayloadError("a web page, perhaps the log-in page of a network")
    if not head.startswith(b"year,month,day,"):
        raise BadPayloadError("no daily weather table")
    try:
        table = pd.read_csv(io.BytesIO(content), skipinitialspace=True)
        table["time"] = pd.to_datetime(table[_PARTS])
        return _by_source(table)
    except (ValueError, TypeError, KeyError) as error:
        raise BadPayloadError("a daily weather table that can't be read") from error


def _by_source(table: pd.DataFrame) -> pd.DataFrame:
    """Return one row for each day and source label, with each value in its source's row."""
    days = table["time"]
    if days.isna().any() or days.duplicated().any():
        raise ValueError("days are missing or told twice")
    pieces = []
    for name in _VARIABLES:
        if name not in table:
            continue
        values = pd.to_numeric(table[name])
        labels = table.get(f"{name}_source")
        source = "unknown" if labels is None else labels.astype("string").fillna("unknown")
        piece = pd.DataFrame({"time": days, "source": source, "variable": name, "value": values})
        pieces.append(piece[values.notna()])
    if not pieces:
        raise KeyError("no variable is known")
    tall = pd.concat(pieces)
    wide = tall.pivot_table(
        index=["time", "source"], columns="variable", values="value", aggfunc="first"
    )
    wide.columns.name = None
    return wide.reindex(columns=[name for name in _VARIABLES if name in table])
